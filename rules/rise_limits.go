package rules

import (
	"trefoil/lint/engine"
	"trefoil/lint/finding"
)

// RiseLimitMissing warns once that no limit of voltage rise is given.
var RiseLimitMissing = &engine.Rule{
	Name: "rise-limit-missing", Summary: "no limit of voltage rise is given", Severity: finding.Warning,
	Clause: engine.Clause{Own: "limits differ by network and size; the design must name its own"}, Wide: true, Since: "0.1.0", Check: riseLimitMissing,
	Doc: engine.Doc{
		Checks: "That the site states rise_limit_percent.",
		Why:    "Rise is worked out in any case, but without a limit nothing is held against it.",
		Blind:  "Whether the limit is the right one.", Sources: "Common practice.", Bad: "no-limit", Good: "limit",
	},
}

func riseLimitMissing(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || site.RiseLimitPercent.Origin != 0 || r.Design.Broken {
		return
	}
	r.Find(r.At(site.At, site.Subject(), "no limit of voltage rise is given, so rise is worked out but held against nothing", "add rise_limit_percent and rise_limit_origin"))
}

// RiseLimitUnfounded notes a limit whose origin is not stated.
var RiseLimitUnfounded = &engine.Rule{
	Name: "rise-limit-unfounded", Summary: "the limit of voltage rise does not say where it comes from", Severity: finding.Note,
	Clause: engine.Clause{Own: "a limit without origin cannot be checked by who approves"}, Wide: true, Since: "0.1.0", Check: riseLimitUnfounded,
	Doc: engine.Doc{
		Checks: "That rise_limit_percent comes with rise_limit_origin.",
		Why:    "Networks, editions and briefs differ; whoever approves must see which one counts.",
		Blind:  "Whether the origin says so.", Sources: "Common practice.", Bad: "no-origin", Good: "origin",
	},
}

func riseLimitUnfounded(r *engine.Review) {
	site := r.Design.Site()
	if site == nil || !site.RiseLimitPercent.Known() || site.RiseLimitOrigin.Origin != 0 {
		return
	}
	r.Find(r.At(site.RiseLimitPercent.At, site.Subject(), "the limit of voltage rise does not say where it comes from", "add rise_limit_origin"))
}
