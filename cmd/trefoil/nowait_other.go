//go:build !unix

package main

// noWait is nothing where opening a file never waits.
const noWait = 0
