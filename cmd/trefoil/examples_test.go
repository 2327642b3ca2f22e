package main

import (
	"bytes"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the recorded outputs")

// TestExamples keeps the recorded output of every example: check.txt beside its files.
func TestExamples(t *testing.T) {
	t.Chdir("../..")
	t.Setenv("NO_COLOR", "1")
	dirs, err := filepath.Glob("examples/*")
	if err != nil || len(dirs) < 3 {
		t.Fatal(dirs, err)
	}
	for _, dir := range dirs {
		t.Run(filepath.Base(dir), func(t *testing.T) {
			var out, errs bytes.Buffer
			code := run([]string{"check", "--today", "2027-03-01", dir}, &out, &errs)
			if code > 1 || errs.Len() > 0 {
				t.Fatalf("exit %d: %s", code, errs.String())
			}
			recorded(t, filepath.Join(dir, "check.txt"), out.Bytes())
			out.Reset()
			if code := run([]string{"align", dir}, &out, &errs); code != 0 {
				t.Errorf("it is not in canonical form:\n%s", out.String())
			}
		})
	}
}

// recorded compares with a file, or writes it with -update.
func recorded(t *testing.T, name string, got []byte) {
	t.Helper()
	if *update {
		if err := os.WriteFile(name, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("%s differs (renew with: go test ./cmd/trefoil -run %s -update):\n%s", name, strings.Split(t.Name(), "/")[0], d)
	}
}

// TestReadme holds what README shows against the examples it shows it of: every
// line of a block that begins with a command of ours stands in its output.
func TestReadme(t *testing.T) {
	t.Chdir("../..")
	t.Setenv("NO_COLOR", "1")
	text, err := fs.ReadFile(os.DirFS("."), "README.md")
	if err != nil {
		t.Fatal(err)
	}
	shown := 0
	for _, block := range strings.Split(string(text), "```")[1:] {
		lines := strings.Split(block, "\n")
		if len(lines) < 2 || lines[0] != "console" || !strings.HasPrefix(lines[1], "$ trefoil ") {
			continue
		}
		shown++
		var out, errs bytes.Buffer
		args := strings.Fields(strings.TrimPrefix(lines[1], "$ trefoil "))
		if args[0] == "check" {
			args = append(args, "--today", "2027-03-01")
		}
		if code := run(args, &out, &errs); code > 1 {
			t.Fatalf("%s: exit %d: %s", lines[1], code, errs.String())
		}
		for _, line := range lines[2:] {
			if line != "" && line != "..." && !strings.Contains("\n"+out.String(), "\n"+line+"\n") {
				t.Errorf("%s does not print:\n%s", lines[1], line)
			}
		}
	}
	if shown < 2 {
		t.Errorf("README shows %d outputs", shown)
	}
}
