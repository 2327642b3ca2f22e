package main

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"trefoil/lint/assess"
	"trefoil/lint/design"
	"trefoil/lint/source"
)

// limit is the value of --max-bytes, which bounds a file and those of a directory. Places in a file are
// counted in 32 bits, so no file may be larger than that.
type limit int64

func (l *limit) Type() string   { return "BYTES" }
func (l *limit) String() string { return strconv.FormatInt(int64(*l), 10) }

func (l *limit) Set(s string) error {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 1 || n > math.MaxUint32 {
		return fmt.Errorf("it is a number of bytes from 1 to %d", uint32(math.MaxUint32))
	}
	*l = limit(n)
	return nil
}

func withMaxBytes(c *cobra.Command, l *limit) {
	*l = 128 << 20
	c.Flags().Var(l, "max-bytes", "the most that the files of a directory may hold together")
}

// loader reads designs from a store.
type loader struct {
	store
	maxBytes limit
}

// hcl lists the *.hcl files of a directory of the disk.
func hcl(dir string) ([]string, error) { return loader{store: disk{}}.hcl(dir) }

// hcl lists the *.hcl files of a directory in name order.
func (l loader) hcl(dir string) ([]string, error) {
	entries, err := l.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".hcl") && !strings.HasPrefix(e.Name(), ".") {
			names = append(names, filepath.Join(dir, e.Name()))
		}
	}
	if len(names) > maxFiles {
		return nil, fmt.Errorf("%s holds %d files, and a design has at most %d; put those that belong together into one", dir, len(names), maxFiles)
	}
	sort.Strings(names)
	return names, nil
}

// maxFiles is the most files of one directory, maxLibraries the most directories that a
// design may name besides its own.
const (
	maxFiles     = 10_000
	maxLibraries = 100
)

// together adds a file to the bytes of its directory.
func (l loader) together(held *int64, dir string, f *source.File) error {
	if *held += int64(len(f.Bytes)); *held > int64(l.maxBytes) {
		return fmt.Errorf("the files of %s hold more than %d bytes together, which --max-bytes allows", dir, l.maxBytes)
	}
	return nil
}

// readFile reads one file of a design from the disk.
func readFile(name string, maxBytes limit) (*source.File, error) {
	return loader{disk{}, maxBytes}.readFile(name)
}

// readFile reads one file of a design, up to a number of bytes.
func (l loader) readFile(name string) (*source.File, error) {
	info, err := l.Stat(name)
	if err != nil {
		return nil, fmt.Errorf("read a design file: %w", err)
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("read %s: it is no regular file; rename it if it does not belong to the design", name)
	}
	size, text := info.Size(), []byte(nil)
	if size <= int64(l.maxBytes) {
		if text, err = bounded(l, name, size, int64(l.maxBytes)); err != nil {
			return nil, fmt.Errorf("read a design file: %w", err)
		}
		size = int64(len(text))
	}
	if size > int64(l.maxBytes) {
		return nil, fmt.Errorf("read %s: it holds %d bytes, and --max-bytes allows %d", name, size, l.maxBytes)
	}
	return &source.File{Name: filepath.ToSlash(name), Bytes: text}, nil
}

// load reads and assesses the design in a directory of the disk.
func load(dir string, maxBytes limit) (*assess.Review, error) {
	return loader{disk{}, maxBytes}.load(dir)
}

// load reads and assesses the design in a directory.
func (l loader) load(dir string) (*assess.Review, error) {
	d, err := l.read(dir)
	if err != nil {
		return nil, err
	}
	return assess.Assess(d, l.choose), nil
}

// errNoFile says that a directory holds no HCL, errNoSite that it holds HCL but no design.
var (
	errNoFile = errors.New("holds no *.hcl file")
	errNoSite = errors.New("no site block")
)

// read reads the design in a directory of the disk.
func read(dir string, maxBytes limit) (*design.Design, error) {
	return loader{disk{}, maxBytes}.read(dir)
}

// read reads the design in a directory, with the library that it names.
func (l loader) read(dir string) (*design.Design, error) {
	files, err := l.files(dir)
	if err != nil {
		return nil, err
	}
	return l.decode(dir, func(lib design.Library) *design.Design {
		return design.ReadWith(filepath.ToSlash(dir), files, lib)
	})
}

// files reads the files of a design itself.
func (l loader) files(dir string) ([]*source.File, error) {
	names, err := l.hcl(dir)
	if err != nil {
		return nil, fmt.Errorf("read the design: %w", err)
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("%s %w; trefoil new %s writes a design to begin with", dir, errNoFile, dir)
	}
	files := make([]*source.File, len(names))
	held := int64(0)
	for i, n := range names {
		if files[i], err = l.readFile(n); err == nil {
			err = l.together(&held, dir, files[i])
		}
		if err != nil {
			return nil, err
		}
	}
	return files, nil
}

// decode decodes a design, and once more with the library that it names.
func (l loader) decode(dir string, with func(design.Library) *design.Design) (*design.Design, error) {
	d := with(design.Library{})
	if s := d.Site(); s != nil && s.Library.Known() {
		lib, err := l.library(dir, s)
		if err != nil {
			return nil, err
		}
		d = with(lib)
	}
	d.ReadProfile(func(name string) (*source.File, error) { return l.profile(dir, name) })
	if d.Site() == nil && !d.Broken {
		return nil, fmt.Errorf("%s holds %w, so it is no design; add site \"NAME\" { ratings = ... voltage_v = ... }", dir, errNoSite)
	}
	return d, nil
}

// profileBytes is the most that a load profile may hold.
const profileBytes = 4 << 20

// profile reads a load profile, which lies inside the design's directory, links followed.
func (l loader) profile(dir, name string) (*source.File, error) {
	root, err := l.Within(dir)
	if err != nil {
		return nil, fmt.Errorf("open the directory: %w", err)
	}
	defer root.Close()
	text, err := readWithin(root, path.Clean(name), profileBytes)
	if err != nil {
		return nil, fmt.Errorf("read the load profile: %w", err)
	}
	return &source.File{Name: path.Join(filepath.ToSlash(dir), name), Bytes: text}, nil
}

// directories turns what was named into the directories of designs, each once and
// relative to the current one. A name that ends in ... stands for every design below it.
// What cannot be found is told, and the rest given.
func directories(names []string, maxBytes limit) (dirs []string, faults []error) {
	if len(names) == 0 {
		names = []string{"."}
	}
	seen := map[string]bool{}
	add := func(dir string) {
		if dir = relative(filepath.Clean(dir)); !seen[dir] {
			seen[dir] = true
			dirs = append(dirs, dir)
		}
	}
	for _, n := range names {
		if base, all := strings.CutSuffix(filepath.ToSlash(n), "..."); all && (base == "" || strings.HasSuffix(base, "/")) {
			if err := below(filepath.Clean("./"+base), base, maxBytes, add); err != nil {
				faults = append(faults, err)
			}
			continue
		}
		info, err := os.Stat(n)
		switch {
		case err != nil:
			faults = append(faults, fmt.Errorf("find the design: %w", err))
		case info.IsDir():
			add(n)
		case strings.HasSuffix(n, ".hcl"):
			add(filepath.Dir(n))
		default:
			faults = append(faults, fmt.Errorf("%s is neither a directory nor an *.hcl file", n))
		}
	}
	return dirs, faults
}

// relative is a directory as seen from the current one.
func relative(dir string) string {
	if !filepath.IsAbs(dir) {
		return dir
	}
	here, err := os.Getwd()
	if err != nil {
		return dir
	}
	if near, err := filepath.Rel(here, dir); err == nil {
		return near
	}
	return dir
}

// below finds every directory with a design under root.
func below(root, named string, maxBytes limit, add func(string)) error {
	if filepath.IsAbs(named) {
		root = filepath.Clean(named)
	}
	found := false
	err := filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return fmt.Errorf("look for designs: %w", err)
		}
		if !e.IsDir() {
			return nil
		}
		if path != root && (strings.HasPrefix(e.Name(), ".") || e.Name() == caseDirectory) {
			return fs.SkipDir
		}
		names, err := hcl(path)
		if err != nil || len(names) == 0 {
			return err
		}
		if _, err := read(path, maxBytes); errors.Is(err, errNoSite) {
			return nil
		}
		found = true
		add(path)
		return nil
	})
	if err == nil && !found {
		err = fmt.Errorf("no design lies below %s: no directory there has a site block", root)
	}
	return err
}
