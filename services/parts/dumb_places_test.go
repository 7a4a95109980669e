package parts_test

import (
	"flag"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/parts"
)

// tally counts what was asked, and how it was answered.
type tally map[string]int

// asksEverywhere draws a shop with two vehicles and asks of each on two days
// about every position, and for the technical sheet.
func (n tally) asksEverywhere(t *rapid.T) {
	w := drawShop(t)
	a := parts.Answerer{Catalogue: w.catalogue(), Places: parts.NewPlaces(w.releases)}
	for range 2 {
		l := drawLife(t, w)
		for _, on := range []string{"2013-06-01", pick(t, "on", "2014-06-01", "2015-06-01", "2016-06-01", "2021-01-01")} {
			ready := a.Prepare(w.onDay(t, l, day(on)))
			for _, position := range drawnPositions() {
				answer := ready.Answer(position)
				agreesAt(t, w, answer, position)
				agreesOnSheet(t, w, ready.Sheet(position), position)
				n.count(&answer)
			}
			agreesOnSheet(t, w, ready.Sheet(""), "")
		}
	}
}

func (n tally) count(a *parts.Answer) {
	n["asked"]++
	switch {
	case a.Refusal != nil:
		n[a.Refusal.Rule]++
	case a.AskBack != "":
		n["asked back"]++
	case a.Choices[0].Application != "":
		n["by an application"]++
	default:
		n["by the release or what is fitted"]++
	}
}

func agreesAt(t *rapid.T, w *shop, got parts.Answer, position string) {
	defer w.tells(t, position)
	d := w.decide(position)
	release := w.follows(position)
	var want [][]string
	gone := false
	for _, b := range d.bases {
		if w.part(b.part) == nil {
			gone = true
			continue
		}
		if allowed := w.answers(b.part, release, b.count); allowed[0] == "UNAVAILABLE" {
			gone = true
		} else {
			want = append(want, allowed)
		}
	}
	rule := ""
	switch {
	case len(d.bases) == 0:
		rule = d.rule
	case gone:
		rule = "gone"
	}
	where := fmt.Sprintf("%s of %s on %s", position, w.conf.Serial, w.on)
	if len(got.Choices) != len(want) {
		t.Fatalf("%s: %d choices, want %v", where, len(got.Choices), want)
	}
	for i := range got.Choices {
		if text := plain(&got.Choices[i]); !slices.Contains(want[i], text) {
			t.Fatalf("%s: %s, want one of %v", where, text, want[i])
		}
	}
	refused := ""
	if got.Refusal != nil {
		refused = got.Refusal.Rule
		if refused == parts.NoSuchPart || refused == parts.CannotBeHad {
			refused = "gone"
		}
	}
	if refused != rule {
		t.Fatalf("%s: refused %q, want %q", where, refused, rule)
	}
	if asks := got.AskBack != ""; asks != (d.question && len(want) > 0 || len(want) > 1) {
		t.Fatalf("%s: asks back %q, want a question: %v", where, got.AskBack, !asks)
	}
}

// sheet is what the rules tell of fluids and settings of a position and what is
// on it, or of all: the rows, and how many choices among rows are open.
func (w *shop) sheet(position string) (told []string, open int) {
	add := func(at string, rows []*parts.Conditions, ids []string) (none bool) {
		switch found := w.candidates(at, rows); {
		case len(found) == 1:
			told = append(told, ids[found[0]])
		case len(found) > 1:
			open++
		default:
			return len(rows) > 0
		}
		return false
	}
	for _, at := range drawnPositions() {
		if !w.has(at) || position != "" && !slices.Contains(w.chain(at), position) {
			continue
		}
		var rows []*parts.Conditions
		var ids []string
		for i := range w.capacities {
			if f := &w.capacities[i]; f.Position == at {
				rows, ids = append(rows, &f.Conditions), append(ids, f.ID)
			}
		}
		if none := add(at, rows, ids); none && w.stands(at) != nil {
			open++ // none of the fluids is for what stands there
		}
		for _, kind := range []string{"gap ", "gap bolts", "torque ", "torque bolts"} {
			rows, ids = nil, nil
			for i := range w.settings {
				if s := &w.settings[i]; s.Position == at && s.Characteristic+" "+s.Subject == kind {
					rows, ids = append(rows, &s.Conditions), append(ids, s.ID)
				}
			}
			add(at, rows, ids)
		}
	}
	slices.Sort(told)
	return told, open
}

func agreesOnSheet(t *rapid.T, w *shop, got parts.Sheet, position string) {
	defer w.tells(t, position)
	var told []string
	for _, f := range got.Fluids {
		told = append(told, f.ID)
	}
	for _, s := range got.Settings {
		told = append(told, s.ID)
	}
	slices.Sort(told)
	want, open := w.sheet(position)
	if !slices.Equal(told, want) || len(got.Open) != open {
		t.Fatalf("sheet %q of %s on %s: %v and %d open, want %v and %d", position, w.conf.Serial, w.on, told, len(got.Open), want, open)
	}
}

// tells shows what a failed question was about.
func (w *shop) tells(t *rapid.T, position string) {
	if !t.Failed() {
		return
	}
	t.Logf("release %s options %v built %s market %q", w.conf.Release, w.conf.Options, w.built, w.conf.Market)
	for _, f := range w.conf.Fitted {
		t.Logf("fitted %s: %d of %s lot %q by %s, follows %s %v", f.Component.Position, f.Quantity, f.Component.Part, f.Component.Lot, f.Origin, f.Release, f.Component.Traits)
	}
	for _, s := range w.specified {
		t.Logf("specified %s: %d of %q, follows %s", s.Position, s.Quantity, s.Part, s.Release)
	}
	for _, a := range w.applications {
		if a.Position == position {
			t.Logf("%s: %d of %q, held %d, when %+v", a.ID, a.Quantity, a.Part, w.judge(&a.Conditions, position), a.Conditions)
		}
	}
	for _, s := range w.settings {
		t.Logf("%s at %s, held %d, when %+v", s.ID, s.Position, w.judge(&s.Conditions, s.Position), s.Conditions)
	}
	for _, s := range w.capacities {
		t.Logf("%s at %s, held %d, when %+v", s.ID, s.Position, w.judge(&s.Conditions, s.Position), s.Conditions)
	}
	for _, s := range w.supersessions {
		t.Logf("%+v", s)
	}
}

func TestADumbResolverAgreesWhichPartBelongsWhere(t *testing.T) {
	answered := tally{}
	rapid.Check(t, answered.asksEverywhere)
	for _, how := range []string{"asked back", "by an application", "by the release or what is fitted",
		parts.PositionEmpty, parts.NothingSupplied, parts.NoApplication, parts.CannotBeHad, parts.NoSuchPart} {
		if answered[how] == 0 {
			t.Errorf("of %d questions none was answered so: %s", answered["asked"], how)
		}
	}
}

// checks sets how many random cases a property is tried on; what it gives sets
// that back.
func checks(t *testing.T, n string) (back func()) {
	flagged := flag.Lookup("rapid.checks")
	before := flagged.Value.String()
	set := func(to string) {
		if err := flagged.Value.Set(to); err != nil {
			t.Fatal(err)
		}
	}
	set(n)
	return func() { set(before) }
}
