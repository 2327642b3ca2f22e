package main

import (
	"bufio"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// revision is the store of one git revision. The git binary is called at most four times
// for it, however many files are read: rev-parse, ls-tree, and two cat-file, of which one
// tells sizes, so that no large file is read, and the other gives contents.
type revision struct {
	name   string // as asked for
	commit string // the full name of the commit
	top    string // the repository's own directory, as an absolute name

	entries map[string]entry    // by path from the top: files, links, other repositories
	below   map[string][]string // by path of a directory: the names in it

	sizes, contents *objects
}

// entry is one line of a tree.
type entry struct {
	mode string
	id   string
}

// The modes of git that are no regular file.
const (
	modeLink   = "120000"
	modeModule = "160000" // another repository
)

// errOutside says that a name leads out of the repository.
var errOutside = errors.New("lies outside of the repository")

// The greatest number of links that are followed, and the longest text of one.
const (
	maxLinks    = 40
	maxLinkText = 4096
)

// objectName is the full name that git gives an object.
var objectName = regexp.MustCompile(`^([0-9a-f]{40}|[0-9a-f]{64})$`)

// openRevision finds a revision of the repository that a directory lies in.
func openRevision(dir, name string) (*revision, error) {
	if name == "" || strings.HasPrefix(name, "-") || strings.ContainsAny(name, "\x00\n") {
		return nil, fmt.Errorf("%q names no revision", name)
	}
	full, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("find the current directory: %w", err)
	}
	at := full // the directory itself may be gone from the disk
	for info, err := os.Stat(at); (err != nil || !info.IsDir()) && filepath.Dir(at) != at; info, err = os.Stat(at) {
		at = filepath.Dir(at)
	}
	said, err := git(at, "rev-parse", "--show-toplevel", "--is-shallow-repository", "--verify", name+"^{commit}")
	lines := strings.Split(strings.TrimRight(string(said), "\r\n"), "\n")
	switch {
	case errors.Is(err, exec.ErrNotFound):
		return nil, errors.New("the program git is not found; comparing with a revision needs it, and two directories can be compared without")
	case err != nil && len(lines) < 2:
		return nil, fmt.Errorf("%s: %w", dir, err)
	case err != nil && lines[1] == "true":
		return nil, fmt.Errorf("git finds no revision %q here, and this clone is shallow: git fetch --unshallow, or git fetch origin %s, brings what it lacks", name, name)
	case err != nil:
		return nil, fmt.Errorf("git finds no revision %q here; git log and git branch -a list what there is", name)
	case len(lines) != 3:
		return nil, fmt.Errorf("git rev-parse answers %q, which is not understood", said)
	}
	if !objectName.MatchString(lines[2]) {
		return nil, fmt.Errorf("%q names no revision", name)
	}
	r := &revision{name: name, commit: lines[2]}
	if r.top, err = lexical(at, filepath.FromSlash(lines[0])); err != nil {
		return nil, err
	}
	tree, err := git(at, "ls-tree", "-r", "-z", "--full-tree", r.commit)
	if err != nil {
		return nil, fmt.Errorf("list the files of %s: %w", name, err)
	}
	if err := r.read(tree); err != nil {
		return nil, err
	}
	r.sizes = &objects{dir: at, ask: "--batch-check"}
	r.contents = &objects{dir: at, ask: "--batch"}
	return r, nil
}

// lexical gives the name of a repository's own directory as a parent of the name at, links
// in it left as they are.
func lexical(at, top string) (string, error) {
	want, err := os.Stat(top)
	if err != nil {
		return "", fmt.Errorf("find the repository: %w", err)
	}
	for up := at; ; up = filepath.Dir(up) {
		if info, err := os.Stat(up); err == nil && os.SameFile(info, want) {
			return up, nil
		}
		if filepath.Dir(up) == up {
			return "", fmt.Errorf("%s is a link into the repository %s; name the directory by its own path", at, top)
		}
	}
}

// read takes the lines of git ls-tree -r -z.
func (r *revision) read(tree []byte) error {
	r.entries, r.below = map[string]entry{}, map[string][]string{"": nil}
	for line := range strings.SplitSeq(strings.TrimSuffix(string(tree), "\x00"), "\x00") {
		if line == "" {
			continue
		}
		head, name, ok := strings.Cut(line, "\t")
		part := strings.Fields(head) // mode, type, id
		if !ok || len(part) != 3 {
			return fmt.Errorf("git ls-tree answers %q, which is not understood", line)
		}
		r.entries[name] = entry{part[0], part[2]}
		for child := name; child != ""; { // as far up as is new
			dir, base := path.Split(child)
			dir = strings.TrimSuffix(dir, "/")
			_, known := r.below[dir]
			r.below[dir] = append(r.below[dir], base)
			if known {
				break
			}
			child = dir
		}
	}
	return nil
}

// String is what messages call it: the name asked for, and the commit where that tells more.
func (r *revision) String() string {
	if strings.HasPrefix(r.commit, r.name) {
		return r.name
	}
	return fmt.Sprintf("%s (%.10s)", r.name, r.commit)
}

// Close ends the git programs.
func (r *revision) Close() error { return errors.Join(r.sizes.Close(), r.contents.Close()) }

// within turns a name of the disk into a path from the top of the repository.
func (r *revision) within(name string) (string, error) {
	full, err := filepath.Abs(name)
	if err != nil {
		return "", fmt.Errorf("find the current directory: %w", err)
	}
	near, err := filepath.Rel(r.top, full)
	if err != nil || near == ".." || strings.HasPrefix(near, ".."+string(filepath.Separator)) {
		return "", r.outside(name)
	}
	if near == "." {
		near = ""
	}
	return filepath.ToSlash(near), nil
}

func (r *revision) outside(name string) error {
	return fmt.Errorf("%s %w, so %s does not hold it", filepath.ToSlash(name), errOutside, r)
}

// resolve follows the links of a path, that of its last name too where last is set.
func (r *revision) resolve(name string, last bool) (string, error) {
	done, rest := "", name
	for links := 0; rest != ""; {
		head, tail, _ := strings.Cut(rest, "/")
		at := path.Join(done, head)
		if e := r.entries[at]; e.mode == modeLink && (tail != "" || last) {
			if links++; links > maxLinks {
				return "", errors.New("too many links")
			}
			text, err := r.link(e.id)
			if err != nil {
				return "", err
			}
			to := path.Join(done, text)
			if path.IsAbs(text) || to == ".." || strings.HasPrefix(to, "../") {
				return "", r.outside(text)
			}
			done, rest = "", strings.TrimPrefix(path.Join(to, tail), ".")
			continue
		}
		done, rest = at, tail
	}
	return done, nil
}

// link reads what a link names.
func (r *revision) link(id string) (string, error) {
	size, _, err := r.sizes.get(id)
	if err != nil {
		return "", err
	}
	if size > maxLinkText {
		return "", errors.New("the link is too long")
	}
	_, text, err := r.contents.get(id)
	return string(text), err
}

// find gives the path and the entry of a name; a directory has none.
func (r *revision) find(op, name string, last bool) (string, entry, error) {
	at, err := r.within(name)
	if err != nil {
		return "", entry{}, err
	}
	return r.look(op, name, at, last)
}

func (r *revision) look(op, name, at string, last bool) (string, entry, error) {
	at, err := r.resolve(at, last)
	if err != nil {
		return "", entry{}, &fs.PathError{Op: op, Path: name, Err: err}
	}
	e, is := r.entries[at]
	if _, dir := r.below[at]; !is && !dir {
		return "", entry{}, &fs.PathError{Op: op, Path: name, Err: fs.ErrNotExist}
	}
	return at, e, nil
}

func (r *revision) ReadDir(name string) ([]fs.DirEntry, error) {
	at, e, err := r.find("open", name, true)
	if err != nil {
		return nil, err
	}
	return r.list(name, at, e)
}

func (r *revision) list(name, at string, e entry) ([]fs.DirEntry, error) {
	switch {
	case e.mode == modeModule:
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: errors.New("another repository, whose files the revision does not hold")}
	case e.mode != "":
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: errors.New("not a directory")}
	}
	list := make([]fs.DirEntry, 0, len(r.below[at]))
	for _, base := range r.below[at] {
		list = append(list, fs.FileInfoToDirEntry(fact{name: base, mode: r.entries[path.Join(at, base)].kind()}))
	}
	slices.SortFunc(list, func(a, b fs.DirEntry) int { return cmp.Compare(a.Name(), b.Name()) })
	return list, nil
}

// kind is the mode of an entry; that of a directory where there is none.
func (e entry) kind() fs.FileMode {
	switch e.mode {
	case "", modeModule:
		return fs.ModeDir
	case modeLink:
		return fs.ModeSymlink
	}
	return 0
}

func (r *revision) Stat(name string) (fs.FileInfo, error) {
	_, e, err := r.find("stat", name, true)
	if err != nil {
		return nil, err
	}
	return r.fact(name, e)
}

func (r *revision) Lstat(name string) (fs.FileInfo, error) {
	_, e, err := r.find("lstat", name, false)
	if err != nil {
		return nil, err
	}
	return r.fact(name, e)
}

func (r *revision) fact(name string, e entry) (fs.FileInfo, error) {
	f := fact{name: path.Base(filepath.ToSlash(name)), mode: e.kind()}
	if f.mode != 0 {
		return f, nil
	}
	var err error
	if f.size, _, err = r.sizes.get(e.id); err != nil {
		return nil, &fs.PathError{Op: "stat", Path: name, Err: err}
	}
	return f, nil
}

func (r *revision) Open(name string) (io.ReadCloser, error) {
	at, e, err := r.find("open", name, true)
	if err != nil {
		return nil, err
	}
	if path.Ext(at) != filepath.Ext(name) {
		return nil, otherKind(name)
	}
	return r.open(name, e)
}

func (r *revision) open(name string, e entry) (io.ReadCloser, error) {
	if e.kind() != 0 {
		return nil, &fs.PathError{Op: "open", Path: name, Err: errors.New("no regular file")}
	}
	_, text, err := r.contents.get(e.id)
	if err != nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: err}
	}
	return io.NopCloser(bytes.NewReader(text)), nil
}

func (r *revision) Same(a, b string) bool {
	one, _, err := r.find("stat", a, true)
	if err != nil {
		return false
	}
	two, _, err := r.find("stat", b, true)
	return err == nil && one == two
}

// Beyond is false: a revision holds nothing of what lies outside.
func (*revision) Beyond(string, string) bool { return false }

func (r *revision) Within(dir string) (inner, error) {
	at, e, err := r.find("open", dir, true)
	if err != nil {
		return nil, err
	}
	if e.mode != "" {
		return nil, &fs.PathError{Op: "open", Path: dir, Err: errors.New("not a directory")}
	}
	return revisionInner{r, at}, nil
}

// revisionInner is a directory of a revision, links that lead out of it refused.
type revisionInner struct {
	r    *revision
	base string
}

func (i revisionInner) find(op, name string) (string, entry, error) {
	at, e, err := i.r.look(op, name, path.Join(i.base, name), true)
	if err == nil && i.base != "" && at != i.base && !strings.HasPrefix(at, i.base+"/") {
		err = &fs.PathError{Op: op, Path: name, Err: errors.New("path escapes from parent")}
	}
	return at, e, err
}

func (i revisionInner) ReadDir(name string) ([]fs.DirEntry, error) {
	at, e, err := i.find("open", name)
	if err != nil {
		return nil, err
	}
	return i.r.list(name, at, e)
}

func (i revisionInner) Stat(name string) (fs.FileInfo, error) {
	_, e, err := i.find("stat", name)
	if err != nil {
		return nil, err
	}
	return i.r.fact(name, e)
}

func (i revisionInner) Open(name string) (io.ReadCloser, error) {
	_, e, err := i.find("open", name)
	if err != nil {
		return nil, err
	}
	return i.r.open(name, e)
}

func (revisionInner) Close() error { return nil }

// objects is a git cat-file that answers one object after the other. It is started when
// the first is asked for.
type objects struct {
	dir, ask string

	command   *exec.Cmd
	to        io.WriteCloser
	from      *bufio.Reader
	complaint bytes.Buffer // what it writes to its standard error
	closed    bool
	err       error
}

// get asks for an object: its size, and with --batch its content.
func (o *objects) get(id string) (size int64, text []byte, err error) {
	if o.command == nil {
		o.start()
	}
	if o.err != nil {
		return 0, nil, o.err
	}
	size, text, err = o.next(id)
	if err != nil && !errors.Is(err, errMissing) { // what comes after that cannot be trusted
		_ = o.Close()
		switch text := strings.TrimSpace(o.complaint.String()); {
		case strings.Contains(text, "promisor"), strings.Contains(text, "not allowed"): // it would ask the network, which we forbid
			o.err = errMissing
		case text != "":
			o.err = fmt.Errorf("git cat-file: %s", text)
		default:
			o.err = fmt.Errorf("read from git cat-file: %w", err)
		}
		return 0, nil, o.err
	}
	return size, text, err
}

// errMissing says that a clone does not hold an object.
var errMissing = errors.New("this clone does not hold its content; a partial clone lacks what was never checked out, and git fetch --refetch --no-filter brings it")

func (o *objects) next(id string) (size int64, text []byte, err error) {
	if _, err := io.WriteString(o.to, id+"\n"); err != nil {
		return 0, nil, err
	}
	line, err := o.from.ReadString('\n')
	if err != nil {
		return 0, nil, err
	}
	part := strings.Fields(line) // id, type, size; or id, missing
	if len(part) == 2 && part[1] == "missing" {
		return 0, nil, errMissing
	}
	if len(part) != 3 {
		return 0, nil, fmt.Errorf("it answers %q", line)
	}
	if size, err = strconv.ParseInt(part[2], 10, 64); err != nil || size < 0 {
		return 0, nil, fmt.Errorf("it answers %q", line)
	}
	if o.ask != "--batch" {
		return size, nil, nil
	}
	if size >= math.MaxUint32 {
		return 0, nil, fmt.Errorf("it answers with %d bytes, and no file of a design may have so many", size)
	}
	var whole bytes.Buffer // grows by what comes, beyond some not by what is announced
	whole.Grow(int(min(size, 1<<20)) + bytes.MinRead)
	if _, err := io.CopyN(&whole, o.from, size+1); err != nil { // a line end follows
		return 0, nil, err
	}
	return size, whole.Bytes()[:size], nil
}

func (o *objects) start() {
	o.command = gitCommand(o.dir, "cat-file", o.ask)
	o.command.Stderr = &o.complaint
	from, err := o.command.StdoutPipe()
	if err == nil {
		o.from = bufio.NewReader(from)
		o.to, err = o.command.StdinPipe()
	}
	if err == nil {
		err = o.command.Start()
	}
	if err != nil {
		o.err = fmt.Errorf("start git cat-file: %w", err)
	}
}

// Close ends the program.
func (o *objects) Close() error {
	if o.command == nil || o.command.Process == nil || o.closed {
		return nil
	}
	o.closed = true
	o.to.Close()
	_, _ = io.Copy(io.Discard, o.from)
	if err := o.command.Wait(); err != nil && o.err == nil {
		return fmt.Errorf("git cat-file: %w", err)
	}
	return nil
}

// git runs git and gives its output, on an error too.
func git(dir string, args ...string) ([]byte, error) {
	return runGit(gitCommand(dir, args...), args[0])
}

// gitPatience is how long git may take for one answer, which is far more than it needs.
const gitPatience = 5 * time.Minute

func runGit(c *exec.Cmd, what string) ([]byte, error) {
	var out, complaint bytes.Buffer
	c.Stdout, c.Stderr = &out, &complaint
	c.WaitDelay = time.Second
	err := c.Start()
	if err == nil {
		late := time.AfterFunc(gitPatience, func() { _ = c.Process.Kill() })
		err = c.Wait()
		if !late.Stop() {
			return nil, fmt.Errorf("git %s did not come to an end within %s", what, gitPatience)
		}
	}
	if text := strings.TrimSpace(complaint.String()); err != nil && text != "" {
		err = fmt.Errorf("git %s: %s", what, strings.TrimPrefix(text, "fatal: "))
	}
	return out.Bytes(), err
}

// hookCommand is a call of git in the current directory that reads the repository and the
// index which git names to its hooks.
func hookCommand(args ...string) *exec.Cmd {
	c := gitCommand(".", args...)
	for _, name := range []string{"GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE"} {
		if v, is := os.LookupEnv(name); is {
			c.Env = append(c.Env, name+"="+v)
		}
	}
	return c
}

// unasked are settings that a repository is not asked for, since it may be a stranger's: they
// name programs that git would start, or files that it would read. A repository without a
// working tree may lie among the files of another one, with such settings in its config.
var unasked = []string{
	"-c", "core.fsmonitor=false", "-c", "core.hooksPath=" + os.DevNull, "-c", "safe.bareRepository=explicit",
	"-c", "log.showSignature=false", "-c", "log.mailmap=false", "-c", "core.attributesFile=" + os.DevNull,
}

// gitCommand is a call of git without a shell, in a plain environment: nothing of a hook
// that runs us, no program of the repository, no question at the terminal, no lock, and no
// network, which a clone that lacks objects would otherwise ask for them. No command that is
// called reads a file of the working tree, for that would start the repository's filters.
func gitCommand(dir string, args ...string) *exec.Cmd {
	c := exec.Command("git", slices.Concat([]string{"--no-pager", "-C", dir}, unasked, args)...)
	for _, v := range os.Environ() {
		name, _, _ := strings.Cut(v, "=")
		if !strings.HasPrefix(name, "GIT_") || keptByGit(name) {
			c.Env = append(c.Env, v)
		}
	}
	c.Env = append(c.Env, "LC_ALL=C", "GIT_TERMINAL_PROMPT=0", "GIT_OPTIONAL_LOCKS=0", "GIT_NO_LAZY_FETCH=1", "GIT_ALLOW_PROTOCOL=", "GIT_LITERAL_PATHSPECS=1")
	return c
}

// keptByGit says that a variable of git is about the machine, not about one repository.
func keptByGit(name string) bool {
	switch name {
	case "GIT_CONFIG_GLOBAL", "GIT_CONFIG_SYSTEM", "GIT_CONFIG_NOSYSTEM", "GIT_CONFIG_COUNT", "GIT_EXEC_PATH", "GIT_CEILING_DIRECTORIES", "GIT_DISCOVERY_ACROSS_FILESYSTEM":
		return true
	}
	return strings.HasPrefix(name, "GIT_CONFIG_KEY_") || strings.HasPrefix(name, "GIT_CONFIG_VALUE_")
}
