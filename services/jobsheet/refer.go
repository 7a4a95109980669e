package jobsheet

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/fault"
)

// Refer says in the fields of the return what a service found wrong with what it
// became: "service_entry.items[0].measured[1].value" is "jobs[2].values[1].value".
// What has no field there stands under the whole return.
func (w *Work) Refer(f fault.Field) fault.Field {
	path, ok := strings.CutPrefix(f.Name, "service_entry.")
	if !ok {
		return w.referStep(f)
	}
	f.Name = path
	item, rest, ok := indexed(path, "items")
	if !ok || item >= len(w.Entry.Items) {
		return f
	}
	of := &w.Entry.Items[item]
	f.Name = fmt.Sprintf("jobs[%d]%s", of.Job, rest)
	if value, tail, ok := indexed(strings.TrimPrefix(rest, "."), "measured"); ok && value < len(of.Values) {
		f.Name = fmt.Sprintf("jobs[%d].values[%d]%s", of.Job, of.Values[value], tail)
	}
	return f
}

// referStep is Refer for "steps[0].parts[1].lot", the step of a campaign: a part is
// one of those that went in, and all else is of the job of the remedy.
func (w *Work) referStep(f fault.Field) fault.Field {
	i, rest, ok := indexed(f.Name, "steps")
	if !ok || i >= len(w.Steps) {
		return f
	}
	step := &w.Steps[i]
	if len(step.Jobs) > 0 {
		f.Name = fmt.Sprintf("jobs[%d]", step.Jobs[0])
	}
	if n, tail, ok := indexed(strings.TrimPrefix(rest, "."), "parts"); ok && n < len(step.Parts) {
		p := &step.Parts[n]
		if at := slices.IndexFunc(w.Entry.Parts, func(u PartUsed) bool { return u.Number == p.Number && u.Lot == p.Lot }); at >= 0 {
			f.Name = fmt.Sprintf("parts[%d]%s", at, tail)
		}
	}
	return f
}

// indexed reads "items[3].note" into 3 and ".note".
func indexed(path, name string) (n int, rest string, ok bool) {
	path, ok = strings.CutPrefix(path, name+"[")
	if !ok {
		return 0, "", false
	}
	digits, rest, ok := strings.Cut(path, "]")
	n, err := strconv.Atoi(digits)
	return n, rest, ok && err == nil && n >= 0
}
