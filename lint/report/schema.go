package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
)

// documents are the documents that commands write with --format json, and check --record.
var documents = map[string]struct {
	title string
	types []reflect.Type
}{
	"check":    {"what trefoil check finds", []reflect.Type{reflect.TypeFor[Document](), reflect.TypeFor[Failure]()}},
	"calc":     {"the working of runs, of trefoil calc", []reflect.Type{reflect.TypeFor[CalcDocument](), reflect.TypeFor[Failure]()}},
	"amend":    {"what trefoil amend changes", []reflect.Type{reflect.TypeFor[AmendDocument](), reflect.TypeFor[Failure]()}},
	"compare":  {"what an edit did, of trefoil compare", []reflect.Type{reflect.TypeFor[ComparisonDocument](), reflect.TypeFor[Failure]()}},
	"choices":  {"what a run could be, of trefoil choices RUN", []reflect.Type{reflect.TypeFor[ChoicesDocument](), reflect.TypeFor[Failure]()}},
	"plan":     {"the choices for many runs together, of trefoil choices --all", []reflect.Type{reflect.TypeFor[PlanDocument](), reflect.TypeFor[Failure]()}},
	"schedule": {"lists of cables and their ends, of trefoil schedule", []reflect.Type{reflect.TypeFor[ScheduleDocument](), reflect.TypeFor[Failure]()}},
	"bill":     {"what a design needs and costs, of trefoil choices --bill", []reflect.Type{reflect.TypeFor[BillDocument](), reflect.TypeFor[Failure]()}},
	"record":   {"the evidence of a check, of trefoil check --record", []reflect.Type{reflect.TypeFor[Record]()}},
	"verify":   {"whether a record holds, of trefoil check --verify", []reflect.Type{reflect.TypeFor[Held](), reflect.TypeFor[Failure]()}},
}

// Documents lists the names of the documents that have a schema.
func Documents() []string { return slices.Sorted(maps.Keys(documents)) }

// wordsOf are the words that a key may hold.
var wordsOf = map[string][]string{
	"jsonFinding.severity": {"error", "warning", "note"},
	"jsonChange.change":    {"added", "removed", "changed", "renamed", "follows"},
	"jsonVerdict.status":   {"new", "worsened", "no longer waived", "waived now", "bettered", "cleared"},
	"jsonFix.kind":         {"neutral", "design", "advice"},
}

// meaning says of keys what they hold, where the name does not.
var meaning = map[string]string{
	"version":     "of the form of the document; keys are only ever added under one version",
	"error":       "why the work could not be done, or not all of it",
	"file":        "relative to where the command ran",
	"line":        "counted from 1",
	"column":      "counted from 1, in Unicode code points",
	"figures":     "the numbers of the finding, under the keys of calc; a figure that is not known is absent",
	"subject":     "the block that it is about, as run.NAME",
	"next":        "what to do next",
	"waived":      "a waiver of the design accepts it",
	"memory":      "references of figures from memory that it rests on",
	"fingerprint": "by which it is known again when lines move and figures change",
	"status":      "where the figure comes from: published, from memory, computed, given in the design",
	"cause":       "the edits that it hangs on, counted from 1; with any, each of them is enough for it",
	"same":        "findings that stand as they stood",
	"blocking":    "verdicts that make the exit code 1",
	"digest":      "SHA-256 over the rest of the record",
	"departures":  "what is not as it was recorded",
}

// Schema writes the JSON Schema of a document, nil where there is none of that name. It is
// made from the very types that are written, so neither can leave the other behind.
func Schema(name string) ([]byte, error) {
	d, is := documents[name]
	if !is {
		return nil, fmt.Errorf("no document is named %q", name)
	}
	defs := map[string]any{}
	var forms []any
	for _, t := range d.types {
		forms = append(forms, schemaOf(t, "", defs))
	}
	s := map[string]any{"$schema": "https://json-schema.org/draft/2020-12/schema", "title": d.title, "anyOf": forms, "$defs": defs}
	if len(forms) == 1 {
		delete(s, "anyOf")
		s["$ref"] = forms[0].(map[string]any)["$ref"]
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(s); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// schemaOf is the schema of a type; where names its key, as wordsOf does.
func schemaOf(t reflect.Type, where string, defs map[string]any) any {
	switch t.Kind() {
	case reflect.Pointer:
		return schemaOf(t.Elem(), where, defs)
	case reflect.Float64:
		return map[string]any{"type": "number"}
	case reflect.Int, reflect.Int64:
		return map[string]any{"type": "integer"}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.String:
		s := map[string]any{"type": "string"}
		if words := wordsOf[where]; words != nil {
			s["enum"] = words
		}
		return s
	case reflect.Interface:
		return map[string]any{} // a text or a number
	case reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": schemaOf(t.Elem(), where, defs)}
	case reflect.Slice:
		if t == reflect.TypeFor[json.RawMessage]() { // of a record
			t = reflect.TypeFor[[]RecordedDesign]()
		}
		return map[string]any{"type": "array", "items": schemaOf(t.Elem(), where, defs)}
	}
	ref := map[string]any{"$ref": "#/$defs/" + t.Name()}
	if _, done := defs[t.Name()]; done {
		return ref
	}
	object := map[string]any{"type": "object"}
	defs[t.Name()] = object
	properties := map[string]any{}
	required := []string{}
	fieldsOf(t, func(f reflect.StructField, key string, optional bool) {
		p := schemaOf(f.Type, t.Name()+"."+key, defs)
		if m, is := p.(map[string]any); is && meaning[key] != "" {
			m["description"] = meaning[key]
		}
		properties[key] = p
		if !optional {
			required = append(required, key)
		}
	})
	object["properties"] = properties
	if len(required) > 0 {
		object["required"] = required
	}
	return ref
}

// fieldsOf goes through the keys that a struct writes, embedded structs included.
func fieldsOf(t reflect.Type, do func(f reflect.StructField, key string, optional bool)) {
	for i := range t.NumField() {
		f := t.Field(i)
		key, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Anonymous && key == "" {
			fieldsOf(f.Type, do)
			continue
		}
		do(f, key, strings.Contains(options, "omit"))
	}
}
