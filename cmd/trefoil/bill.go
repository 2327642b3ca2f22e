package main

import (
	"io"

	"trefoil/lint/assess"
	"trefoil/lint/cost"
	"trefoil/lint/report"
)

// billForms are the ways in which a bill is written.
var billForms = []string{"text", "csv", "json"}

// writeBill counts and prices what a design needs, and writes it in a form of billForms.
func writeBill(out io.Writer, v *assess.Review, form string) error {
	bill := cost.Of(v)
	switch form {
	case "csv":
		return report.WriteBillCSV(out, bill)
	case "json":
		return report.WriteJSON(out, report.NewBillDocument(tool, bill))
	}
	return report.WriteBill(out, bill)
}
