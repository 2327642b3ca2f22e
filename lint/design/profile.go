package design

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"trefoil/lint/finding"
	"trefoil/lint/source"
)

// Profile is a load profile: the share of rated output in each hour.
type Profile struct {
	File   *source.File
	Shares []float64
}

// The hours of a day, and the most that a profile may hold: those of a leap year.
const (
	dayHours     = 24
	profileHours = 366 * dayHours
)

// ReadProfile reads the file that load_profile of the site names, which open gives.
// What is wrong with it is told where it is written.
func (d *Design) ReadProfile(open func(name string) (*source.File, error)) {
	site := d.Site()
	if site == nil || site.Economy == nil || !site.Economy.LoadProfile.Known() {
		return
	}
	named := &site.Economy.LoadProfile
	fault := func(at source.Range, message, next string) {
		f := Fault{Rule: "value-impossible", Severity: finding.Error, At: at, Subject: site.Subject(), Message: message, Next: next}
		if at != named.At {
			f.Related = []finding.Related{{At: named.At, Message: "the profile is named here"}}
		}
		d.profiled = append(d.profiled, f)
		d.Faults = append(d.Faults, f)
		finding.Sort(d.Faults)
		named.Origin = Faulty
	}
	file, err := open(named.Value)
	if err != nil {
		fault(named.At, err.Error(), "correct the name, which is seen from the design's directory")
		return
	}
	p := &Profile{File: file}
	heading := true
	at := 0
	for line := range bytes.Lines(file.Bytes) {
		place := source.Range{File: file, Start: uint32(at), End: uint32(at + len(bytes.TrimRight(line, "\r\n")))}
		at += len(line)
		text := strings.TrimSpace(strings.TrimPrefix(string(line), "\ufeff"))
		if text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		cells := strings.Split(text, ",")
		share, err := strconv.ParseFloat(strings.TrimSpace(cells[len(cells)-1]), 64)
		switch first := heading; {
		case err != nil && first:
			heading = false
			continue
		case err != nil:
			fault(place, fmt.Sprintf("the last column of %s is no number", quoted(text)), "write the share of rated output of the hour, as in 0.42")
			return
		case !(share >= 0 && share <= 1):
			fault(place, fmt.Sprintf("the hour has %s of rated output; a share is from 0 to 1", strconv.FormatFloat(share, 'g', 6, 64)), "divide by the rated output; 42 percent is 0.42")
			return
		case len(p.Shares) == profileHours:
			fault(place, fmt.Sprintf("the profile holds more than %d hours, those of a leap year", profileHours), "keep one value an hour, of one year at most")
			return
		}
		heading = false
		p.Shares = append(p.Shares, share)
	}
	if n := len(p.Shares); n == 0 || n%dayHours != 0 {
		fault(named.At, fmt.Sprintf("%s holds %d hours, which is no number of whole days", file.Name, n), "give 24 hours of a day, or each hour of the year")
		return
	}
	d.Profile = p
}
