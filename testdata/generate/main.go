// Command generate writes a design of many runs, the same for the same seed:
//
//	go run ./testdata/generate [-seed N] [-per-file RUNS] RUNS DIRECTORY
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"trefoil/lint/generate"
)

func main() {
	seed := flag.Uint64("seed", 1, "which design")
	perFile := flag.Int("per-file", 0, "runs a file; 0 for one file")
	flag.Usage = func() {
		fmt.Fprintln(flag.CommandLine.Output(), "generate [-seed N] [-per-file RUNS] RUNS DIRECTORY writes a design of so many runs into a new directory")
		flag.PrintDefaults()
	}
	flag.Parse()
	runs, err := strconv.Atoi(flag.Arg(0))
	if flag.NArg() != 2 || err != nil || runs < 1 || *perFile < 0 {
		flag.Usage()
		os.Exit(2)
	}
	if err := write(flag.Arg(1), runs, *seed, *perFile); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

func write(dir string, runs int, seed uint64, perFile int) error {
	texts := [][]byte{nil}
	if perFile > 0 {
		texts = generate.Files(runs, seed, perFile)
	} else {
		texts[0] = generate.Design(runs, seed)
	}
	if err := os.Mkdir(dir, 0o755); err != nil {
		return fmt.Errorf("%w: name a directory that is not there yet", err)
	}
	for i, text := range texts {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%04d.hcl", i)), text, 0o644); err != nil {
			return err
		}
	}
	return nil
}
