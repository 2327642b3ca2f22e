package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// store is where designs are read: the disk, a revision of a git repository, or the disk
// with unsaved texts laid over it. Names are those of the disk, as seen from the current
// directory, and links are followed.
type store interface {
	folder
	Lstat(name string) (fs.FileInfo, error) // the link itself
	Same(a, b string) bool                  // two names of one directory
	Beyond(dir, at string) bool             // at lies outside of the repository that holds dir, links followed
	// Within is one directory, from which no name and no link leads out. Its names are
	// slash-separated and relative to it.
	Within(dir string) (inner, error)
}

// folder is what is read from.
type folder interface {
	ReadDir(name string) ([]fs.DirEntry, error)
	Stat(name string) (fs.FileInfo, error)
	Open(name string) (io.ReadCloser, error)
}

// inner is a folder inside of a store.
type inner interface {
	folder
	Close() error
}

// bounded reads a file of at most so many bytes; what is larger comes back longer than that.
func bounded(f folder, name string, size, most int64) ([]byte, error) {
	from, err := f.Open(name)
	if err != nil {
		return nil, err
	}
	defer from.Close()
	var text bytes.Buffer
	text.Grow(int(min(size, most)) + bytes.MinRead)
	if _, err := text.ReadFrom(io.LimitReader(from, most+1)); err != nil {
		return nil, err
	}
	return text.Bytes(), nil
}

// readWithin reads a regular file of at most so many bytes.
func readWithin(f folder, name string, most int64) ([]byte, error) {
	info, err := f.Stat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is no regular file", name)
	}
	text, err := bounded(f, name, info.Size(), most)
	if err == nil && int64(len(text)) > most {
		err = fmt.Errorf("%s is larger than %d bytes, the most for it", name, most)
	}
	return text, err
}

// disk is the file system.
type disk struct{}

func (disk) ReadDir(name string) ([]fs.DirEntry, error) { return os.ReadDir(name) }
func (disk) Stat(name string) (fs.FileInfo, error)      { return os.Stat(name) }
func (disk) Lstat(name string) (fs.FileInfo, error)     { return os.Lstat(name) }

// Open opens a regular file, and waits for nothing: a pipe that has taken its place since
// it was looked at is refused. A link leads to a file of the same ending, inside of the
// repository where there is one, so that a design of somebody else's does not show what else
// lies on the machine.
func (d disk) Open(name string) (io.ReadCloser, error) {
	if link, err := os.Lstat(name); err == nil && link.Mode()&fs.ModeSymlink != 0 {
		real, err := filepath.EvalSymlinks(name)
		switch {
		case err != nil:
			return nil, err
		case filepath.Ext(real) != filepath.Ext(name):
			return nil, otherKind(name)
		case d.Beyond(filepath.Dir(name), real):
			return nil, fmt.Errorf("%s is a link that leads out of the repository; put the file itself there", filepath.ToSlash(name))
		}
	}
	f, err := os.OpenFile(name, os.O_RDONLY|noWait, 0)
	if err != nil {
		return nil, err
	}
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		f.Close()
		return nil, errors.Join(fmt.Errorf("%s is no regular file any more", filepath.ToSlash(name)), err)
	}
	return f, nil
}

func otherKind(name string) error {
	return fmt.Errorf("%s is a link to a file of another kind; put the file itself there", filepath.ToSlash(name))
}

// Beyond looks for the repository by the directory that holds a .git, as that of git does.
// Without one nothing lies outside.
func (disk) Beyond(dir, at string) bool {
	real := func(name string) string {
		full, err := filepath.Abs(name)
		if err == nil {
			full, err = filepath.EvalSymlinks(full)
		}
		if err != nil {
			return ""
		}
		return full
	}
	to := real(at)
	for top := real(dir); top != "" && to != ""; top = filepath.Dir(top) {
		if _, err := os.Lstat(filepath.Join(top, ".git")); err == nil {
			near, err := filepath.Rel(top, to)
			return err != nil || near == ".." || strings.HasPrefix(near, ".."+string(filepath.Separator))
		}
		if filepath.Dir(top) == top {
			break
		}
	}
	return false
}

func (disk) Same(a, b string) bool {
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	two, err := os.Stat(b)
	return err == nil && os.SameFile(one, two)
}

func (disk) Within(dir string) (inner, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	return diskInner{root}, nil
}

// diskInner is a directory of the disk, links that lead out of it refused.
type diskInner struct{ root *os.Root }

func (d diskInner) ReadDir(name string) ([]fs.DirEntry, error) {
	return fs.ReadDir(d.root.FS(), name)
}
func (d diskInner) Stat(name string) (fs.FileInfo, error) { return d.root.Stat(name) }
func (d diskInner) Open(name string) (io.ReadCloser, error) {
	return d.root.OpenFile(name, os.O_RDONLY|noWait, 0)
}
func (d diskInner) Close() error { return d.root.Close() }

// over is a store with texts laid over it, by absolute name, as an editor holds them that
// has not saved. A text that the store does not hold stands there as a new file. Within, where
// tables are read, is that of the store.
type over struct {
	store
	texts map[string][]byte
}

// lay lays texts over a store; their names may be seen from the current directory.
func lay(s store, texts map[string][]byte) (store, error) {
	all := make(map[string][]byte, len(texts))
	for name, text := range texts {
		full, err := filepath.Abs(name)
		if err != nil {
			return nil, fmt.Errorf("find the current directory: %w", err)
		}
		all[full] = text
	}
	return over{s, all}, nil
}

// laid gives the text over a name, which may be a link to the file that was opened.
func (o over) laid(name string) ([]byte, bool) {
	full, err := filepath.Abs(name)
	if err != nil {
		return nil, false
	}
	text, is := o.texts[full]
	return text, is
}

func (o over) ReadDir(name string) ([]fs.DirEntry, error) {
	entries, err := o.store.ReadDir(name)
	if err != nil {
		return nil, err
	}
	full, err := filepath.Abs(name)
	if err != nil {
		return nil, err
	}
	for at, text := range o.texts {
		base := filepath.Base(at)
		if filepath.Dir(at) == full && !slices.ContainsFunc(entries, func(e fs.DirEntry) bool { return e.Name() == base }) {
			entries = append(entries, fs.FileInfoToDirEntry(fact{name: base, size: int64(len(text))}))
		}
	}
	slices.SortFunc(entries, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	return entries, nil
}

func (o over) Stat(name string) (fs.FileInfo, error) {
	if text, is := o.laid(name); is {
		return fact{name: filepath.Base(name), size: int64(len(text))}, nil
	}
	return o.store.Stat(name)
}

func (o over) Lstat(name string) (fs.FileInfo, error) {
	info, err := o.store.Lstat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return o.Stat(name)
	}
	return info, err
}

func (o over) Open(name string) (io.ReadCloser, error) {
	if text, is := o.laid(name); is {
		return io.NopCloser(bytes.NewReader(text)), nil
	}
	return o.store.Open(name)
}

// fact is what is known of a file that does not lie on the disk.
type fact struct {
	name string
	size int64
	mode fs.FileMode
}

func (f fact) Name() string       { return f.name }
func (f fact) Size() int64        { return f.size }
func (f fact) Mode() fs.FileMode  { return f.mode }
func (f fact) ModTime() time.Time { return time.Time{} }
func (f fact) IsDir() bool        { return f.mode.IsDir() }
func (f fact) Sys() any           { return nil }
