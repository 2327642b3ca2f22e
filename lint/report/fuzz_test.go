package report

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"trefoil/lint/engine"
)

// FuzzRecord reads any text as a record, and any list of designs as one whose digest is
// right: it holds against itself, is told in words that do not steer, and no other byte of it
// passes for the same.
func FuzzRecord(f *testing.F) {
	v := assessed(dairy)
	r, err := NewRecord(Tool{Name: "trefoil", Version: "1"}, time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC), []*engine.Result{engine.Check(v, nil, engine.Options{})})
	if err != nil {
		f.Fatal(err)
	}
	var whole bytes.Buffer
	if err := r.Write(&whole); err != nil {
		f.Fatal(err)
	}
	f.Add(whole.Bytes(), "2027-03-01", 40)
	f.Add([]byte(r.Designs), "2027-03-01", 3)
	f.Add([]byte(`[{"design":"a","margins":[{"run":"x","capacity_a":1e999}],"findings":[null,{"message":"\u202e\u001b[31m"}],"waivers":[{"accepts":-0}]}]`), "", 0)
	f.Add([]byte(`[{"design":"a","inputs":[{"file":"x"},{"file":"x"}],"tables":null,"ratings":{}}]`), "0000-00-00", 9)
	f.Add([]byte(`{"version":1,"digest":"x"}`), "x", 1)
	f.Fuzz(func(t *testing.T, text []byte, today string, other int) {
		if _, _, err := ReadRecord(text); err != nil && err.Error() == "" {
			t.Error("an error without words")
		}
		if !json.Valid(text) {
			return
		}
		var designs bytes.Buffer
		if err := json.Compact(&designs, text); err != nil {
			t.Fatal(err)
		}
		made := &Record{Version: Version, Tool: Tool{Name: "trefoil", Version: "1"}, Today: today, Designs: designs.Bytes()}
		made.Digest = made.digest()
		file, err := json.Marshal(made)
		if err != nil {
			t.Fatal(err)
		}
		read, list, err := ReadRecord(file)
		if err != nil {
			return // it is JSON, and no list of designs; or escapes of it are written otherwise
		}
		held, err := Hold(read, read)
		if err != nil {
			t.Fatal(err)
		}
		for i := range list { // two of one name are held against the first
			for k := range list[:i] {
				if list[i].Design == list[k].Design {
					return
				}
			}
		}
		if !held.Holds {
			t.Errorf("it does not hold against itself: %q", held.Departures)
		}
		none := *read
		none.Designs = []byte("[]")
		gone, err := Hold(read, &none)
		if err != nil || gone.Holds != (len(list) == 0) {
			t.Errorf("%d designs are gone, and it holds: %t, %v", len(list), gone.Holds, err)
		}
		var b bytes.Buffer
		if err := gone.Write(&b, "x\u202e", false); err != nil {
			t.Fatal(err)
		}
		for _, c := range b.String() {
			if c != '\n' && steers(c) {
				t.Errorf("%q stands in %q", c, b.String())
			}
		}
		if i := other; i >= 0 && i < len(file) && file[i] >= '0' && file[i] < '9' {
			file[i]++ // another figure
			if _, _, err := ReadRecord(file); err == nil {
				t.Errorf("a figure was altered: %s", file)
			}
		}
	})
}
