package finding

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"strconv"
	"strings"
	"unicode"
)

// identity is what stays of a finding when lines move, files are renamed and figures
// change: the rule, the subject, and which word of the text it points at.
type identity struct{ rule, subject, word string }

func (f *Finding) identity() identity { return identity{f.Rule, f.Subject, f.word()} }

// word is the name of the attribute, the kind of block or the reference that a finding
// points at, "" where that is none of these.
func (f *Finding) word() string {
	const long = 200 // bytes that are looked at
	if f.At.File == nil || int(f.At.Start) > len(f.At.File.Bytes) {
		return ""
	}
	text := f.At.File.Bytes[f.At.Start:]
	text = text[:min(len(text), long, int(max(f.At.End, f.At.Start)-f.At.Start))]
	if end := bytes.IndexAny(text, "={\"#\r\n"); end >= 0 {
		text = text[:end]
	}
	s := strings.ToValidUTF8(strings.TrimSpace(string(text)), "")
	if s == "" || !unicode.IsLetter([]rune(s)[0]) {
		return ""
	}
	return s
}

// Identify gives every finding its fingerprint, by which it is known again in another
// version of the design. Several of one rule at one word of one subject are told apart by
// their order.
func Identify(list []Finding) {
	count := make(map[identity]int, len(list))
	var text []byte
	for i := range list {
		id := list[i].identity()
		text = text[:0]
		for _, s := range []string{id.rule, id.subject, id.word} {
			text = append(strconv.AppendQuote(text, s), ' ')
		}
		sum := sha256.Sum256(strconv.AppendInt(text, int64(count[id]), 10))
		list[i].Fingerprint = hex.EncodeToString(sum[:8])
		count[id]++
	}
}

// Match finds the findings of one version of a design in another: for each of now the
// index of its like in was, or -1. renamed gives the name that a subject of was has now.
// Among several of one rule at one word of one subject, those that say the same belong
// together, then those that differ in figures alone, then the rest in order.
func Match(was, now []Finding, renamed func(subject string) string) []int {
	like := make([]int, len(now))
	for i := range like {
		like[i] = -1
	}
	type key struct {
		identity
		says string
	}
	found := make([]bool, len(was))
	for _, says := range []func(message string) string{
		func(message string) string { return message },
		wording,
		func(string) string { return "" },
	} {
		left := make(map[key][]int, len(was))
		for i := range was {
			if !found[i] {
				k := key{was[i].identity(), says(was[i].Message)}
				k.subject = renamed(k.subject)
				left[k] = append(left[k], i)
			}
		}
		for i := range now {
			k := key{now[i].identity(), says(now[i].Message)}
			if list := left[k]; like[i] < 0 && len(list) > 0 {
				like[i], left[k] = list[0], list[1:]
				found[list[0]] = true
			}
		}
	}
	return like
}

// wording is a message without its figures.
func wording(message string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsDigit(r) || r == '.' || r == ',' {
			return -1
		}
		return r
	}, message)
}
