package desk

import (
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/wording"
)

// described is a thing of a version as facts: an item of a programme, a position
// of a release. key says which of the other version is the same thing.
type described struct {
	key, title string
	facts      []fact
}

// difference is a thing that the later of two versions has otherwise.
type difference struct {
	title string
	what  string // "new", "gone" or "changed"
	facts []changedFact
}

// changedFact is a fact before and after; "" where it is not said.
type changedFact struct{ label, before, after string }

// differences compares two versions: in the order of the later one, and then
// what that has no more.
func differences(earlier, later []described) []difference {
	before := map[string]described{}
	for _, d := range earlier {
		before[d.key] = d
	}
	var out []difference
	for _, d := range later {
		old, there := before[d.key]
		delete(before, d.key)
		if !there {
			out = append(out, difference{d.title, "new", changedFacts(nil, d.facts)})
		} else if facts := changedFacts(old.facts, d.facts); len(facts) > 0 {
			out = append(out, difference{d.title, "changed", facts})
		}
	}
	for _, d := range earlier {
		if _, gone := before[d.key]; gone {
			out = append(out, difference{d.title, "gone", changedFacts(d.facts, nil)})
			delete(before, d.key)
		}
	}
	return out
}

// changedFacts are the facts that differ, by their labels.
func changedFacts(before, after []fact) []changedFact {
	var out []changedFact
	value := func(all []fact, label string) string {
		if n := slices.IndexFunc(all, func(f fact) bool { return f.Label == label }); n >= 0 {
			return all[n].Value
		}
		return ""
	}
	for _, f := range after {
		if old := value(before, f.Label); old != f.Value {
			out = append(out, changedFact{f.Label, old, f.Value})
		}
	}
	for _, f := range before {
		if f.Value != "" && value(after, f.Label) == "" && !slices.ContainsFunc(after, func(a fact) bool { return a.Label == f.Label }) {
			out = append(out, changedFact{f.Label, f.Value, ""})
		}
	}
	return out
}

// mostDiffering is how much of what differs a page shows, in characters and with
// something for each row: two versions can differ in all that they say.
const (
	mostDiffering = 40_000
	perDifference = 150
)

// differencesFrom gives the differences that a page shows which begins with the
// one behind skip others, and how many come before the next page; 0 for no next one.
func differencesFrom(all []difference, skip int) (shown []difference, next int) {
	skip = max(0, min(skip, len(all)))
	weight := 0
	for n, d := range all[skip:] {
		weight += len(d.title) + perDifference
		for _, f := range d.facts {
			weight += len(f.label) + len(f.before) + len(f.after) + perDifference
		}
		if weight > mostDiffering && n > 0 {
			return all[skip : skip+n], skip + n
		}
	}
	return all[skip:], 0
}

// differing is the table of what differs between two versions, page by page.
func (v *visit) differing(all []difference, earlier, later string) (*table, []link) {
	q := v.r.URL.Query()
	skip, err := strconv.Atoi(q.Get("page"))
	if err != nil {
		skip = 0 // the first
	}
	shown, next := differencesFrom(all, skip)
	t := differenceTable(shown, earlier, later)
	if next == 0 {
		return t, nil
	}
	q.Set("page", strconv.Itoa(next))
	return t, []link{{Label: "The other " + strconv.Itoa(len(all)-next) + wording.Verb(len(all)-next, " that differs", " that differ"), Path: v.r.URL.Path + "?" + q.Encode()}}
}

// differenceTable lists what differs, a heading for each thing.
func differenceTable(all []difference, earlier, later string) *table {
	t := &table{Caption: "What differs", Heads: []string{"What", earlier, later}, Empty: "Nothing differs."}
	for _, d := range all {
		t.Rows = append(t.Rows, []cell{{Text: d.title + ": " + d.what, Over: true}})
		for _, f := range d.facts {
			t.Rows = append(t.Rows, []cell{{Text: f.label}, {Text: orNothing(f.before)}, {Text: orNothing(f.after)}})
		}
	}
	return t
}

func orNothing(text string) string {
	if text == "" {
		return "–"
	}
	return text
}

// compareForm asks which two versions are held against each other.
func compareForm(action, one string, names []string, from, to string) *form {
	choices := func(chosen string) (out []option) {
		for _, n := range names {
			label := n
			if strings.Contains(n, "/versions/") {
				label = versionName(n)
			}
			out = append(out, option{Value: n, Label: label, Chosen: n == chosen})
		}
		return out
	}
	return &form{ID: "compare", Action: action, Get: true, Submit: "Compare", Fields: []field{
		{Name: "from", Label: "The earlier " + one, Options: choices(from)}, {Name: "to", Label: "The later " + one, Options: choices(to)},
	}}
}
