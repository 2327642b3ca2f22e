package report

import (
	"fmt"
	"io"
	"strings"

	"trefoil/lint/finding"
	"trefoil/ratings"
	"trefoil/ratings/quantity"
)

type jsonSet struct {
	Name           string      `json:"name"`
	Title          string      `json:"title"`
	Scope          string      `json:"scope"`
	AirC           float64     `json:"air_c"`
	SoilC          float64     `json:"soil_c"`
	SoilKmW        float64     `json:"soil_km_w"`
	DepthM         float64     `json:"depth_m"`
	SupersededBy   string      `json:"superseded_by,omitempty"`
	SupersededFrom string      `json:"superseded_from,omitempty"`
	Published      int         `json:"published"`
	Memory         int         `json:"from_memory"`
	Computed       int         `json:"computed"`
	Tables         []jsonTable `json:"tables,omitempty"`
}

type jsonTable struct {
	File       string   `json:"file"`
	Standard   string   `json:"standard"`
	Title      string   `json:"title"`
	Conditions string   `json:"conditions"`
	Sources    []string `json:"sources"`
	Published  int      `json:"published"`
	Memory     int      `json:"from_memory"`
	Computed   int      `json:"computed"`
	Text       string   `json:"text,omitempty"`
}

func table(f ratings.File) jsonTable {
	return jsonTable{f.Name, f.Standard, f.Title, f.Conditions, f.Sources, f.Published, f.Memory, f.Computed, ""}
}

// WriteTables lists rating sets, with their tables where files is set.
func WriteTables(w io.Writer, sets []ratings.Set, files, asJSON bool) error {
	var list []jsonSet
	for _, s := range sets {
		i := s.Info()
		j := jsonSet{Name: i.Name, Title: i.Title, Scope: i.Scope, AirC: i.AirC, SoilC: i.SoilC, SoilKmW: i.SoilKmW, DepthM: i.DepthM, SupersededBy: i.SupersededBy, SupersededFrom: i.SupersededFrom}
		for _, f := range s.Files() {
			j.Published += f.Published
			j.Memory += f.Memory
			j.Computed += f.Computed
			if files {
				j.Tables = append(j.Tables, table(f))
			}
		}
		list = append(list, j)
	}
	if asJSON {
		return WriteJSON(w, map[string]any{"version": Version, "sets": list})
	}
	var b strings.Builder
	for _, j := range list {
		fmt.Fprintf(&b, "%s\n  %s\n%s\n", bold.Sprint(j.Name), j.Title, wrap("rates "+j.Scope, 96, "  "))
		fmt.Fprintf(&b, "  reference conditions: air %s, soil %s, %s, depth %s\n", quantity.Celsius.Print(j.AirC), quantity.Celsius.Print(j.SoilC), quantity.SoilKMW.Print(j.SoilKmW), quantity.Metre.Print(j.DepthM))
		if j.SupersededBy != "" {
			fmt.Fprintf(&b, "  superseded by %s, %s\n", j.SupersededBy, j.SupersededFrom)
		}
		fmt.Fprintf(&b, "  figures: %d read in a print, %d from memory, %d computed\n", j.Published, j.Memory, j.Computed)
		for _, t := range j.Tables {
			fmt.Fprintf(&b, "\n  %s  %s\n    %s\n    conditions: %s\n    figures: %d read in a print, %d from memory, %d computed\n", bold.Sprint(t.File), t.Standard, t.Title, t.Conditions, t.Published, t.Memory, t.Computed)
			for _, s := range t.Sources {
				fmt.Fprintf(&b, "    source: %s\n", s)
			}
		}
		b.WriteString("\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// WriteTable prints one table as it is stored, its head and marks included.
func WriteTable(w io.Writer, f ratings.File, asJSON bool) error {
	if asJSON {
		t := table(f)
		t.Text = f.Text
		return WriteJSON(w, t)
	}
	_, err := io.WriteString(w, f.Text)
	return err
}

// TableCheck is what a look through a directory of tables brings.
type TableCheck struct {
	Version int           `json:"version"`
	Tool    Tool          `json:"tool"`
	Tables  int           `json:"tables"`
	Columns int           `json:"columns"` // of capacities
	Remarks []TableRemark `json:"remarks"`
}

// TableRemark is one thing about a table: an error, or a cell that looks mistyped.
type TableRemark struct {
	Severity string `json:"severity"`
	File     string `json:"file"`
	Line     int    `json:"line,omitempty"`
	Message  string `json:"message"`
}

// Write writes the remarks, a line each, or as one document.
func (c TableCheck) Write(w io.Writer, asJSON bool) error {
	if asJSON {
		return WriteJSON(w, c)
	}
	var b strings.Builder
	errors := 0
	for _, r := range c.Remarks {
		at := r.File
		if r.Line > 0 {
			at = fmt.Sprintf("%s:%d:1", at, r.Line)
		}
		if r.Severity == finding.Error.String() {
			errors++
		}
		fmt.Fprintln(&b, Clean(fmt.Sprintf("%s: %s: %s", at, r.Severity, r.Message)))
	}
	fmt.Fprintf(&b, "%s, %s of capacities: %s, %s to look at\n", many(c.Tables, "table"), many(c.Columns, "column"), many(errors, "error"), many(len(c.Remarks)-errors, "cell"))
	_, err := io.WriteString(w, b.String())
	return err
}
