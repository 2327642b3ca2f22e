//go:build unix

package main

import "syscall"

// noWait makes opening a pipe return at once.
const noWait = syscall.O_NONBLOCK
