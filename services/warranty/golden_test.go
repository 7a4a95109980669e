package warranty_test

import (
	"os"
	"strings"
	"testing"

	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

// What a customer reads, for a person to read.
func TestAnswersAsTheyAreRead(t *testing.T) {
	const path = "testdata/answers.golden"
	var b strings.Builder
	for _, c := range []struct {
		what   string
		change func(*Question)
	}{
		{"within the year", func(*Question) {}},
		{"in kilometres, for an owner who serviced elsewhere", func(q *Question) { q.Print, q.Facts.Serviced.Elsewhere = vehicle.Kilometres, true }},
		{"the day after the last", func(q *Question) { q.On, q.Goodwill = day("2027-03-04"), StandardGoodwill() }},
		{"a little over the distance", func(q *Question) { q.Distance = True(miles(12010) + 5) }},
		{"after 14 days out of service, delivered on a leap day", func(q *Question) {
			q.Facts.Delivered, q.On = day("2024-02-29"), day("2025-03-10")
			q.Facts.Spans = []Span{{Start: day("2024-06-01"), End: day("2024-06-14"), Counts: true}}
		}},
		{"delivered on a leap day", func(q *Question) { q.Facts.Delivered, q.On = day("2024-02-29"), day("2025-02-28") }},
		{"repaired in the last month", func(q *Question) {
			q.On = day("2027-04-01")
			q.Facts.Repairs = []Repair{{Position: "transfer-case", Date: day("2027-02-10"), At: True(miles(400)), Term: TermName("WORKS-12", 1)}}
		}},
		{"a supplier's term after a sale", func(q *Question) {
			q.Terms, q.Facts.OwnerChanges = []Term{supplier()}, []vehicle.Date{day("2026-06-01")}
		}},
		{"the owner's own part", func(q *Question) { q.Unit.Source = SourceOwner }},
		{"worn", func(q *Question) { q.Exclusions = []string{"wear"} }},
		{"distance not known", func(q *Question) { q.Distance = TrueDistance{} }},
		{"delivery not known", func(q *Question) { q.Facts.Delivered = vehicle.Date{} }},
		{"start distance not known", func(q *Question) { q.Facts.DeliveredAt, q.Distance = TrueDistance{}, True(miles(13000)) }},
		{"a unit that came from another vehicle", func(q *Question) {
			q.Terms = []Term{supplier()}
			moved(q, 0)
			q.Unit.Prior, q.Distance = TrueDistance{}, True(miles(7000))
		}},
		{"parts by one, labour by another", func(q *Question) { q.Terms = append(q.Terms, supplier()) }},
		{"no term", func(q *Question) { q.Terms = nil }},
	} {
		q := question()
		c.change(q)
		got := Decide(q)
		b.WriteString("# " + c.what + "\n\n" + got.Sentence + "\n")
		for _, r := range got.Reasons {
			b.WriteString("- " + r.Rule + ": " + r.Sentence + "\n")
		}
		b.WriteString("\n")
	}
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the answers have changed; read them and run with -update:\n%s", b.String())
	}
}
