package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"trefoil/lint/finding"
	"trefoil/lint/generate"
)

// heard collects what is written, and lets a test wait for words in it.
type heard struct {
	mu   sync.Mutex
	text bytes.Buffer
	news chan struct{}
}

func (h *heard) Write(p []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	select {
	case h.news <- struct{}{}:
	default:
	}
	return h.text.Write(p)
}

// wait waits for words, and forgets what was written up to them.
func (h *heard) wait(t *testing.T, words string) {
	t.Helper()
	patience := time.After(30 * time.Second)
	for {
		h.mu.Lock()
		before, after, found := strings.Cut(h.text.String(), words)
		if found {
			h.text.Reset()
			h.text.WriteString(after)
		}
		h.mu.Unlock()
		if found {
			return
		}
		select {
		case <-h.news:
		case <-patience:
			t.Fatalf("%q is not written; there is\n%s", words, before)
		}
	}
}

// TestWatch: a save of the design, of its library and of its tables is checked at once; so
// is a new file, and a file that an editor replaces. It ends when it is told to.
func TestWatch(t *testing.T) {
	t.Setenv("NO_COLOR", "1")
	t.Chdir(t.TempDir())
	for _, f := range txtar.Parse([]byte(millText)).Files {
		save(t, f.Name, f.Data)
	}
	ownTable(t, "sites/mill/tables/own")
	k := checking{how: format{oneOf: oneOf{value: "text"}}, level: severity{finding.Error}, maxBytes: 1 << 20, today: day{time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)}}
	out := &heard{news: make(chan struct{}, 1)}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error)
	go func() { ended <- k.follow(ctx, out, io.Discard, []string{"sites/mill"}) }()
	out.wait(t, "1 run, 1 assessed: 0 errors")
	out.wait(t, "waiting for a save")
	change := func(name, old, now string) {
		t.Helper()
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		other := strings.Replace(string(text), old, now, 1)
		if other == string(text) {
			t.Fatalf("%q is not in %s", old, name)
		}
		temp := filepath.Join(filepath.Dir(name), ".swap")
		save(t, temp, []byte(other))
		if err := os.Rename(temp, name); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct{ file, old, now, says string }{
		{"sites/mill/site.hcl", "max_current_a = 40", "max_current_a = 78", "[run-overloaded]"},
		{"sites/mill/tables/own/own.csv", ",77,", ",79,", "1 run, 1 assessed: 0 errors"},
		{"catalogue/cables.hcl", "4c+e", "many", "cores is \"many\""},
		{"catalogue/cables.hcl", "many", "4c+e", "1 run, 1 assessed: 0 errors"},
		{"sites/mill/site.hcl", "../../catalogue", "../../gone", "gone is no directory"},
		{"sites/mill/site.hcl", "../../gone", "../../catalogue", "1 run, 1 assessed: 0 errors"},
		{"catalogue/cables.hcl", "4c+e", "4c+e\"\n  colour = \"red", "no attribute"},
		{"catalogue/cables.hcl", "\"\n  colour = \"red", "", "1 run, 1 assessed: 0 errors"},
		{"sites/mill/runs.hcl", "run \"inv\" {", "run \"inv\" {{", "[broken-text]"},
		{"sites/mill/runs.hcl", "{{", "{", "1 run, 1 assessed: 0 errors"},
	} {
		change(c.file, c.old, c.now)
		out.wait(t, c.says)
		out.wait(t, "waiting for a save")
	}
	save(t, "sites/mill/more.hcl", []byte("board \"b\" {\n  size = 1\n}\n"))
	out.wait(t, "[unknown-word]")
	out.wait(t, "waiting for a save")
	stop()
	select {
	case err := <-ended:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(30 * time.Second):
		t.Error("it does not end")
	}
}

// BenchmarkWatch1000 is what a save of a design of 1,000 runs costs: reading, checking,
// writing. It is to stay below 100 ms.
func BenchmarkWatch1000(b *testing.B) {
	dir := b.TempDir()
	save(b, filepath.Join(dir, "site.hcl"), generate.Design(1000, 1))
	k := checking{how: format{oneOf: oneOf{value: "text"}}, level: severity{finding.Error}, maxBytes: 1 << 30, today: day{time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)}}
	b.ReportAllocs()
	for b.Loop() {
		_ = k.once(io.Discard, io.Discard, []string{dir})
	}
}
