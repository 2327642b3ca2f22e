package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"trefoil/lint/generate"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"trefoil": func() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) },
	})
}

// TestScripts runs the whole program on the archives in testdata/script.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("NO_COLOR", "1")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"json": jsonValue, "code": exitCode, "nested": nested, "crlf": crlf, "sub": sub, "generated": generated,
		},
	})
}

// code N COMMAND... runs a command and wants its exit code.
func exitCode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: code N COMMAND...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := 0
	if err != nil {
		_, text, _ := strings.Cut(err.Error(), "exit status ")
		if got, err = strconv.Atoi(text); err != nil {
			ts.Fatalf("%v", err)
		}
	}
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit code %d, want %s", got, args[0])
	}
}

// json PATH VALUE [TOLERANCE] reads the last standard output as one JSON document
// and compares the value at a path such as findings.0.rule; "-" wants it absent, "#n"
// a length.
func jsonValue(ts *testscript.TestScript, neg bool, args []string) {
	text := ts.ReadFile("stdout")
	d := json.NewDecoder(strings.NewReader(text))
	var v any
	if err := d.Decode(&v); err != nil {
		ts.Fatalf("no JSON: %v", err)
	}
	if d.More() {
		ts.Fatalf("more than one document")
	}
	if len(args) == 0 {
		return
	}
	for _, step := range strings.Split(args[0], ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[step]
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil { // the first finding of a rule
				i = slices.IndexFunc(x, func(e any) bool { m, ok := e.(map[string]any); return ok && m["rule"] == step })
				if i >= 0 {
					err = nil
				}
			}
			if err != nil || i >= len(x) {
				ts.Fatalf("%s: no element %s", args[0], step)
			}
			v = x[i]
		default:
			v = nil
		}
	}
	got := fmt.Sprint(v)
	switch {
	case v == nil:
		got = "-"
	case strings.HasPrefix(args[1], "#"):
		list, _ := v.([]any)
		got = fmt.Sprintf("#%d", len(list))
	}
	same := got == args[1]
	if x, is := v.(float64); is {
		want, err := strconv.ParseFloat(args[1], 64)
		tolerance := 1e-9 * math.Abs(want)
		if len(args) > 2 {
			tolerance, _ = strconv.ParseFloat(args[2], 64)
		}
		same = err == nil && math.Abs(x-want) <= tolerance
	}
	if same == neg {
		ts.Fatalf("%s is %s, want %s", args[0], got, args[1])
	}
}

// nested FILE N writes a design with N brackets inside each other.
func nested(ts *testscript.TestScript, _ bool, args []string) {
	n, _ := strconv.Atoi(args[1])
	text := "site \"x\" {\n voltage_v = " + strings.Repeat("[", n) + strings.Repeat("]", n) + "\n}\n"
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}

// crlf FILE gives a file a byte-order mark and the other line ends.
func crlf(ts *testscript.TestScript, _ bool, args []string) {
	text := strings.ReplaceAll(ts.ReadFile(args[0]), "\n", "\r\n")
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte("\xef\xbb\xbf"+text), 0o600))
}

// sub FILE OLD NEW replaces words of a file.
func sub(ts *testscript.TestScript, _ bool, args []string) {
	text := strings.Replace(ts.ReadFile(args[0]), args[1], args[2], 1)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}

// generated DIR N writes a generated design of N runs.
func generated(ts *testscript.TestScript, _ bool, args []string) {
	n, _ := strconv.Atoi(args[1])
	ts.Check(os.MkdirAll(ts.MkAbs(args[0]), 0o700))
	ts.Check(os.WriteFile(filepath.Join(ts.MkAbs(args[0]), "site.hcl"), bytes.TrimSpace(generate.Design(n, 1)), 0o600))
}
