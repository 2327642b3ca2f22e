package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// touched gives the designs that a commit touches: those of the files named, and of the
// *.hcl files that git has staged, deleted ones too. What belongs to no design is noted
// and passed by, and so are the cases of house rules, some of which are meant to fail.
func (k *checking) touched(o *outcome, args []string) []string {
	names := slices.Clone(args)
	staged, err := stagedFiles()
	if err != nil {
		o.faults = append(o.faults, err)
		return nil
	}
	names = append(names, staged...)
	var dirs []string
	seen := map[string]bool{}
	for _, n := range names {
		dir := n
		if info, err := os.Stat(n); err != nil || !info.IsDir() {
			if !strings.HasSuffix(n, ".hcl") {
				continue
			}
			dir = filepath.Dir(n)
		}
		if dir = relative(filepath.Clean(dir)); seen[dir] {
			continue
		}
		seen[dir] = true
		_, err := read(dir, k.maxBytes)
		_, gone := os.Stat(dir)
		switch {
		case slices.Contains(strings.Split(filepath.ToSlash(dir), "/"), caseDirectory):
			o.notes = append(o.notes, fmt.Sprintf("%s holds a case of a house rule; --house-cases runs those", filepath.ToSlash(dir)))
		case errors.Is(gone, os.ErrNotExist), errors.Is(err, errNoFile):
			o.notes = append(o.notes, fmt.Sprintf("%s holds no *.hcl file any more", filepath.ToSlash(dir)))
		case errors.Is(err, errNoSite):
			o.notes = append(o.notes, fmt.Sprintf("%s holds no site block, so it is passed by; designs that use it as a library are checked by name, or by ./...", filepath.ToSlash(dir)))
		default:
			dirs = append(dirs, dir)
		}
	}
	if len(dirs) == 0 {
		o.notes = append(o.notes, "no design is touched, so nothing was checked")
	}
	return dirs
}

// stagedFiles lists the files that the commit being made adds, changes or removes, as seen
// from the current directory. It reads the index that git names to its hooks.
func stagedFiles() ([]string, error) {
	said := func(args ...string) ([]byte, error) {
		return runGit(hookCommand(args...), args[0])
	}
	up, err := said("rev-parse", "--show-cdup")
	if err != nil {
		return nil, err
	}
	list, err := said("diff", "--cached", "--name-only", "--no-renames", "--no-ext-diff", "--no-textconv", "--ignore-submodules=all", "-z", "--diff-filter=ACDMT")
	if err != nil {
		return nil, err
	}
	var names []string
	for n := range strings.SplitSeq(string(list), "\x00") {
		if n != "" {
			names = append(names, filepath.Join(filepath.FromSlash(strings.TrimRight(string(up), "\r\n")), filepath.FromSlash(n)))
		}
	}
	return names, nil
}
