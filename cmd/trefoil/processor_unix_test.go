//go:build unix

package main

import (
	"syscall"
	"testing"
	"time"
)

// processor is the time that the program took of all processors.
func processor(t testing.TB) time.Duration {
	var use syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &use); err != nil {
		t.Fatal(err)
	}
	return time.Duration(use.Utime.Nano() + use.Stime.Nano())
}
