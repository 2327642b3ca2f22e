package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// licenceMarks are words that only one licence has, in the order in which they are looked for.
var licenceMarks = [][2]string{
	{"Mozilla Public License", "MPL-2.0"},
	{"Apache License", "Apache-2.0"},
	{"Redistribution and use in source", "BSD-3-Clause"},
	{"Permission is hereby granted, free of charge", "MIT"},
}

// TestModules holds the list of the modules that the program is made of, with their
// licences, against what is linked. A new one, or another licence, is a change to look at:
//
//	go test ./cmd/trefoil -run TestModules -update
func TestModules(t *testing.T) {
	c := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if .Version}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}{{end}}", ".")
	said, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(said)), "\n")
	slices.Sort(lines)
	var b strings.Builder
	for _, l := range slices.Compact(lines) {
		part := strings.Split(l, "\t")
		fmt.Fprintf(&b, "%s %s %s\n", part[0], part[1], licence(t, part[2]))
	}
	const list = "../../testdata/modules.txt"
	if *update {
		save(t, list, []byte(b.String()))
	}
	want, err := os.ReadFile(list)
	if err != nil || string(want) != b.String() {
		t.Errorf("the modules linked are\n%s\nand %s holds\n%s", b.String(), list, want)
	}
}

// licence names that of a module by its text.
func licence(t *testing.T, dir string) string {
	t.Helper()
	for _, pattern := range []string{"LICENSE*", "LICENCE*", "COPYING*"} {
		names, _ := filepath.Glob(filepath.Join(dir, pattern))
		for _, n := range names {
			text, err := os.ReadFile(n)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range licenceMarks {
				if bytes.Contains(text, []byte(m[0])) {
					return m[1]
				}
			}
		}
	}
	t.Errorf("%s has no licence that is known here", dir)
	return "unknown"
}
