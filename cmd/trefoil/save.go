package main

import (
	"fmt"
	"os"
	"path/filepath"
)

// save writes a file whole or not at all: beside it first, then in its place.
func save(name string, text []byte) error {
	mode := os.FileMode(0o644)
	if target, err := filepath.EvalSymlinks(name); err == nil {
		name = target
	}
	if info, err := os.Stat(name); err == nil {
		if !info.Mode().IsRegular() {
			return fmt.Errorf("save %s: it is no regular file", name)
		}
		mode = info.Mode().Perm()
	}
	temp, err := os.CreateTemp(filepath.Dir(name), ".trefoil-*")
	if err != nil {
		return fmt.Errorf("save %s: %w", name, err)
	}
	defer os.Remove(temp.Name())
	_, err = temp.Write(text)
	if err == nil {
		err = temp.Chmod(mode)
	}
	if err == nil {
		err = temp.Sync()
	}
	if e := temp.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(temp.Name(), name)
	}
	if err != nil {
		return fmt.Errorf("save %s: %w", name, err)
	}
	return nil
}
