//go:build !unix

package main

import (
	"testing"
	"time"
)

var begun = time.Now()

// processor is the time that passed, where nobody tells that of the processors.
func processor(testing.TB) time.Duration { return time.Since(begun) }
