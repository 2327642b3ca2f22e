package compare

import (
	"slices"

	"trefoil/lint/finding"
)

func (s *Side) findings() []finding.Finding {
	if s.Result == nil {
		return nil
	}
	return s.Result.Findings
}

// verdicts tells what became of every finding, the worst first; same counts those that
// stand as they stood.
func verdicts(was, now []finding.Finding, renamed func(string) string) (list []Verdict, same int) {
	like := finding.Match(was, now, renamed)
	kept := make([]bool, len(was))
	for i := range now {
		v := Verdict{Now: &now[i]}
		if like[i] >= 0 {
			v.Was = &was[like[i]]
			kept[like[i]] = true
		}
		status, moved := standing(v.Was, v.Now)
		if !moved {
			same++
			continue
		}
		v.Status = status
		list = append(list, v)
	}
	for i := range was {
		if !kept[i] {
			list = append(list, Verdict{Status: Cleared, Was: &was[i]})
		}
	}
	slices.SortStableFunc(list, func(a, b Verdict) int {
		if a.Status != b.Status {
			return int(a.Status) - int(b.Status)
		}
		return int(b.Finding().Severity) - int(a.Finding().Severity)
	})
	return list, same
}

// standing compares a finding with its like before, nil where it had none.
func standing(was, now *finding.Finding) (status Status, moved bool) {
	switch {
	case was == nil && now.Waived, was != nil && now.Waived && !was.Waived:
		return Waived, true
	case was == nil:
		return New, true
	case was.Waived && !now.Waived:
		return Unwaived, true
	case now.Severity != was.Severity:
		return worse(now.Severity > was.Severity), true
	case !now.HasPercent || !was.HasPercent || !other(known(was), known(now)):
		return 0, false
	}
	return worse(now.Percent > was.Percent), true
}

func worse(yes bool) Status {
	if yes {
		return Worsened
	}
	return Bettered
}
