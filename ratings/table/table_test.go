package table

import (
	"math"
	"strings"
	"testing"

	"trefoil/ratings"
)

const sample = "# title: a\n# standard: S:2000\n# number: Table 1\n# source: x\n# keys: n\n# checksum: f=2.7\nn,f\n1,1.0\n2,0.9*\n4,0.8~\n8,\n"

func TestParse(t *testing.T) {
	tab, err := Parse("a.csv", []byte(sample))
	if err != nil {
		t.Fatal(err)
	}
	f := tab.File()
	if f.Published != 1 || f.Memory != 1 || f.Computed != 1 || f.Standard != "S:2000 Table 1" {
		t.Errorf("%+v", f)
	}
	s, err := tab.Series("n", "f", "S:2000 Table 1", nil)
	if err != nil {
		t.Fatal(err)
	}
	if c, ok := s.Exact(2); !ok || c.Value != 0.9 || c.Status != ratings.Memory {
		t.Errorf("%+v %v", c, ok)
	}
	if _, ok := s.Exact(3); ok {
		t.Error("3 is in the table")
	}
	for key, want := range map[float64]float64{0: 1, 1: 1, 1.5: 0.9, 2: 0.9, 2 + 1e-12: 0.9, 3: 0.8, 4: 0.8} {
		if c, _, ok := s.Up(key); !ok || c.Value != want {
			t.Errorf("up from %g: %+v %v", key, c, ok)
		}
	}
	if _, _, ok := s.Up(5); ok { // the row of 8 is empty
		t.Error("5 is in the table")
	}
	if below, above := s.Near(3); below != 2 || above != 4 {
		t.Error(below, above)
	}
	if below, above := s.Near(9); below != 4 || !math.IsNaN(above) {
		t.Error(below, above)
	}
	if last, c := s.Last(); last != 4 || c.Status != ratings.Computed {
		t.Error(last, c)
	}
}

func TestErrors(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":         {"", "a.csv:1: the file holds no table"},
		"no rows":       {"# title: a\n# standard: s\nn,f\n", "a.csv:1: the file holds no table"},
		"no title":      {"n,f\n1,2\n", "a.csv:1: the head does not say title"},
		"head":          {"# nonsense\nn\n1\n", "a.csv:1: a head line is written"},
		"decimal comma": {strings.Replace(sample, "2,0.9*", "2,0,9", 1), "a.csv:9: the row has 3 cells"},
		"short row":     {strings.Replace(sample, "2,0.9*", "2", 1), "a.csv:9: the row has 1 cells"},
		"twice":         {strings.Replace(sample, "2,0.9*", "1,1.0", 1), "a.csv:9: the row stands already in line 8"},
		"column twice":  {strings.Replace(sample, "n,f", "n,n", 1), "a.csv:7: column \"n\" stands twice"},
		"no name":       {strings.Replace(sample, "n,f", "n,", 1), "a.csv:7: column 2 has no name"},
		"sum":           {strings.Replace(sample, "0.9*", "0.8*", 1), "a.csv:6: column \"f\" adds up to 2.6"},
		"sum of none":   {strings.Replace(sample, "f=2.7", "g=1", 1), "a.csv:6: checksum names column \"g\""},
		"sum unread":    {strings.Replace(sample, "f=2.7", "f", 1), "a.csv:6: checksum \"f\" is written"},
		"many rows":     {"# title: a\n# standard: s\nn\n" + strings.Repeat("1\n2\n", 10), "a.csv:6: the row stands already"},
	} {
		if _, err := Parse("a.csv", []byte(c.text)); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", name, err, c.want)
		}
	}
	for name, text := range map[string]string{
		"falling":   strings.Replace(strings.Replace(sample, "4,0.8~", "1.5,0.8~", 1), "# checksum: f=2.7\n", "", 1),
		"no number": strings.Replace(sample, "4,0.8~", "x,0.8~", 1),
	} {
		tab, err := Parse("a.csv", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := tab.Series("n", "f", "", nil); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(sample))
	f.Fuzz(func(t *testing.T, text []byte) {
		a, errA := Parse("a.csv", text)
		b, errB := Parse("a.csv", text)
		if (errA == nil) != (errB == nil) || errA != nil && errA.Error() != errB.Error() {
			t.Fatal(errA, errB)
		}
		if errA != nil {
			return
		}
		if len(a.Rows) != len(b.Rows) || a.File().Memory != b.File().Memory {
			t.Error("two readings differ")
		}
		if s, err := a.Series(a.Columns[0], a.Columns[len(a.Columns)-1], "", nil); err == nil {
			for _, k := range s.Keys() {
				if c, ok := s.Exact(k); !ok || math.IsNaN(c.Value) {
					t.Errorf("%g is lost", k)
				}
			}
		}
	})
}
