package main

import (
	"bytes"
	"crypto/sha1"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"trefoil/lint/document"
	"trefoil/lint/draw"
	"trefoil/lint/paper"
)

func reportCommand(out io.Writer) *cobra.Command {
	var (
		maxBytes limit
		today    day
		file     string
		pdf      string
	)
	c := &cobra.Command{
		Use:   "report [DIR]",
		Short: "Write a design and its findings as one document",
		Long: `Report writes one HTML file that holds all of it: summary and cautions, what the figures
rest on, findings, drawings, voltage rise to every source with its profile, loading, schedules, the
working of every run, the register of waivers, and what each check does not see. It works
without script, fetches nothing, and prints on A4 with wide tables on A3. Its figures are
those of calc. Where errors stand open, every printed page says so. With --pdf the same
goes to a PDF with bookmarks, drawings as lines, on pages of A4 and A3; its faces show
Latin, Greek, Cyrillic, Hebrew and Arabic, and other signs as a replacement character.

The same text and --today give the same bytes. The revision is that of the last commit
that touched the directory, where it lies in a git repository. Exit code: 0 when the
report is written, whatever it finds; 3 when it could not be.

Local codes and the licensed person responsible decide; this is an aid.`,
		Example: `  trefoil report --out cold-store.html examples/cold-store
  trefoil report --today 2027-03-01 --out bakery.html examples/bakery
  trefoil report --pdf cold-store.pdf examples/cold-store`,
		Args: cobra.MaximumNArgs(1),
	}
	cutting := withCuts(c)
	c.RunE = func(_ *cobra.Command, args []string) error {
		res, all, now, err := reviewed(args, maxBytes, today)
		if err != nil {
			return failed(err)
		}
		in := document.Input{Tool: tool, Result: res, Rules: all, Today: now, Revision: lastCommit(res.Review.Design.Dir)}
		in.Drawings = drawings(in)
		cutting(&in.Schedule)
		d := document.Of(in)
		var b bytes.Buffer
		if pdf != "" {
			if err := paper.Write(&b, d); err != nil {
				return failed(fmt.Errorf("write the report: %w", err))
			}
			if err := handOver(out, pdf, b.Bytes()); err != nil || file == "" {
				return err
			}
			b.Reset()
		}
		if err := document.HTML(&b, d); err != nil {
			return failed(fmt.Errorf("write the report: %w", err))
		}
		return handOver(out, file, b.Bytes())
	}
	c.Flags().StringVar(&file, "out", "", "write to this file instead of standard output")
	c.Flags().StringVar(&pdf, "pdf", "", "write a PDF to this file; HTML too where --out is given")
	c.Flags().Var(&today, "today", "the day of the report, on which waivers are judged (default: the local date)")
	withMaxBytes(c, &maxBytes)
	return c
}

// drawings are the sheets of a report: the single-line diagram, then the cross-sections.
func drawings(in document.Input) (list []document.Drawing) {
	v, found := in.Result.Review, in.Result.Findings
	opt := draw.Options{Date: in.Today.Format(time.DateOnly), Revision: in.Revision.String(), Tool: in.Tool.Name + " " + in.Tool.Version}
	for _, d := range []struct {
		name   string
		sheets []draw.Sheet
	}{{"Single-line diagram", draw.Diagram(v, found, opt)}, {"Cross-sections of the routes", draw.Sections(v, found, opt)}} {
		for i, s := range d.sheets {
			list = append(list, document.Drawing{Name: fmt.Sprintf("%s, sheet %d of %d", d.name, i+1, len(d.sheets)), Scene: s.Scene})
		}
	}
	return list
}

// lastCommit asks git for the last commit that touched a directory, and whether its text
// differs from it; nil where there is no repository, or no git.
func lastCommit(dir string) *document.Revision {
	dir = filepath.FromSlash(dir)
	said, err := git(dir, "log", "-1", "--no-color", "--encoding=UTF-8", "--format=%h%x00%cs%x00%s%x00%an", "--", ".")
	parts := strings.Split(strings.TrimRight(string(said), "\r\n"), "\x00")
	if err != nil || len(parts) != 4 {
		return nil
	}
	return &document.Revision{Commit: parts[0], Day: parts[1], Subject: parts[2], By: parts[3], Changed: changed(dir)}
}

// changed says that the designs and tables below a directory are not those of the last
// commit. The files are read here, for git would pass them through filters that the
// repository names; what such a filter alters counts as changed.
func changed(dir string) bool {
	tree, err := git(dir, "ls-tree", "-r", "-z", "HEAD")
	if err != nil {
		return true
	}
	was := &revision{}
	if err := was.read(tree); err != nil {
		return true
	}
	list, err := git(dir, "ls-files", "-z", "--cached", "--others", "--exclude-standard")
	if err != nil {
		return true
	}
	root, err := disk{}.Within(dir)
	if err != nil {
		return true
	}
	defer root.Close()
	ours := func(name string) bool { return strings.HasSuffix(name, ".hcl") || strings.HasSuffix(name, ".csv") }
	for name := range strings.SplitSeq(string(list), "\x00") {
		if _, had := was.entries[name]; ours(name) && !had {
			return true
		}
	}
	for name, e := range was.entries {
		if !ours(name) || e.kind() == fs.ModeDir {
			continue
		}
		if e.kind() == fs.ModeSymlink {
			if to, err := os.Readlink(filepath.Join(dir, filepath.FromSlash(name))); err != nil || blobName([]byte(filepath.ToSlash(to)), len(e.id)) != e.id {
				return true
			}
			continue
		}
		text, err := readWithin(root, name, math.MaxUint32)
		if err != nil || blobName(text, len(e.id)) != e.id && blobName(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")), len(e.id)) != e.id {
			return true
		}
	}
	return false
}

// blobName is the name that git gives a content: the sum of its length and its bytes, by
// SHA-1 in 40 digits or SHA-256 in 64 (gitformat-pack, "Object types" and git hash-object).
func blobName(text []byte, digits int) string {
	h := sha1.New()
	if digits == 2*sha256.Size {
		h = sha256.New()
	}
	fmt.Fprintf(h, "blob %d\x00", len(text))
	h.Write(text)
	return hex.EncodeToString(h.Sum(nil))
}
