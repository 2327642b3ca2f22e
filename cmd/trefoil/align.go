package main

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/rogpeppe/go-internal/diff"
	"github.com/spf13/cobra"

	"trefoil/lint/align"
	"trefoil/lint/report"
)

func alignCommand(out io.Writer) *cobra.Command {
	var write bool
	var maxBytes limit
	c := &cobra.Command{
		Use:   "align [DIR|FILE ...]",
		Short: "Bring the text of a design into its canonical form",
		Long: `Align sets spacing and line ends the way HCL is usually written; comments and meaning
stay. Without --write it shows what would change and exits with 1 when something
would. Files that are broken are told and left alone.`,
		Example: `  trefoil align
  trefoil align --write examples/bakery
  trefoil align site.hcl`,
		RunE: func(_ *cobra.Command, args []string) error {
			names, err := named(args)
			if err != nil {
				return failed(err)
			}
			changed, broken := false, false
			for _, n := range names {
				f, err := readFile(n, maxBytes)
				if err != nil {
					return failed(err)
				}
				text, faults := align.Text(f)
				for _, x := range faults {
					p := f.Position(x.At.Start)
					fmt.Fprintln(out, report.Clean(fmt.Sprintf("%s:%d:%d: error: %s [%s]", f.Name, p.Line, p.Column, x.Message, x.Rule)))
					broken = true
				}
				if len(faults) > 0 || bytes.Equal(text, f.Bytes) {
					continue
				}
				if !write {
					changed = true
					for line := range strings.Lines(string(diff.Diff(f.Name, f.Bytes, f.Name+" (aligned)", text))) {
						fmt.Fprintln(out, report.Clean(strings.TrimSuffix(line, "\n")))
					}
					continue
				}
				if err := replace(n, f.Bytes, text); err != nil {
					return failed(err)
				}
				fmt.Fprintf(out, "%s: aligned\n", report.Clean(f.Name))
			}
			if changed || broken {
				return &exit{code: exitFindings}
			}
			return nil
		},
	}
	c.Flags().BoolVar(&write, "write", false, "save the files instead of showing what would change")
	withMaxBytes(c, &maxBytes)
	return c
}

// named lists the files that were named, and those of directories.
func named(args []string) ([]string, error) {
	if len(args) == 0 {
		args = []string{"."}
	}
	var list []string
	for _, a := range args {
		info, err := os.Stat(a)
		switch {
		case err != nil:
			return nil, fmt.Errorf("find the design: %w", err)
		case !info.IsDir():
			if !strings.HasSuffix(a, ".hcl") {
				return nil, fmt.Errorf("%s is neither a directory nor an *.hcl file", a)
			}
			list = append(list, a)
		default:
			names, err := hcl(a)
			if err != nil {
				return nil, fmt.Errorf("read the design: %w", err)
			}
			if len(names) == 0 {
				return nil, fmt.Errorf("%s holds no *.hcl file", a)
			}
			list = append(list, names...)
		}
	}
	return list, nil
}

// replace saves a file whole or not at all, and refuses when it changed meanwhile.
func replace(name string, was, text []byte) error {
	target, err := filepath.EvalSymlinks(name)
	if err != nil {
		return fmt.Errorf("save: %w", err)
	}
	info, err := os.Stat(target)
	if err != nil {
		return fmt.Errorf("save: %w", err)
	}
	return settle(name, target, info.Mode().Perm(), text, func() error {
		if now, err := os.ReadFile(target); err != nil || !bytes.Equal(now, was) {
			return fmt.Errorf("save %s: the file changed while it was worked on; nothing was written", name)
		}
		return nil
	})
}

// save writes a document whole or not at all; it takes the place of an earlier one.
func save(name string, text []byte) error {
	target, mode := name, fs.FileMode(0o644)
	switch info, err := os.Stat(name); {
	case err == nil && !info.Mode().IsRegular():
		return fmt.Errorf("save %s: it is no regular file; name another one with --out", name)
	case strings.HasSuffix(name, ".hcl"):
		return fmt.Errorf("save %s: that is the name of a design file; name another one with --out", name)
	case err == nil:
		mode = info.Mode().Perm()
		if target, err = filepath.EvalSymlinks(name); err != nil {
			return fmt.Errorf("save: %w", err)
		}
	}
	return settle(name, target, mode, text, func() error { return nil })
}

// settle writes beside the target and then takes its place, where ready allows it.
func settle(name, target string, mode fs.FileMode, text []byte, ready func() error) error {
	temp, err := os.CreateTemp(filepath.Dir(target), ".trefoil-*")
	if err != nil {
		return fmt.Errorf("save %s: %w", name, err)
	}
	defer os.Remove(temp.Name())
	_, err = temp.Write(text)
	if err == nil {
		err = temp.Chmod(mode)
	}
	if err == nil {
		err = temp.Sync()
	}
	if e := temp.Close(); err == nil {
		err = e
	}
	if err != nil {
		return fmt.Errorf("save %s: %w", name, err)
	}
	if err := ready(); err != nil {
		return err
	}
	if err := os.Rename(temp.Name(), target); err != nil {
		return fmt.Errorf("save %s: %w", name, err)
	}
	return nil
}
