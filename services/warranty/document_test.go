package warranty_test

import (
	"flag"
	"os"
	"strings"
	"testing"

	. "halfshaft/services/warranty"
)

var update = flag.Bool("update", false, "write the golden files anew")

func contact() Contact {
	return Contact{Name: "Aldermoor Works", Address: "Works Lane 1, Aldermoor", Telephone: "+44 1632 960147", Email: "warranty@aldermoor.example"}
}

func document() Document {
	q := question()
	q.Terms = append(q.Terms, supplier())
	q.Terms[1].Repair, q.Terms[1].Exclusions = RepairTerm{Months: 6, Distance: miles(3000)}, []Exclusion{{ID: "cases", Text: "Cracked cases", Positions: []string{"transfer-case"}}}
	return Write(q, contact())
}

func (d docText) String() string {
	var b strings.Builder
	for _, s := range d.Sections {
		b.WriteString("# " + s.Title + "  " + s.Item + "\n\n")
		for _, p := range s.Paragraphs {
			b.WriteString(p + "\n\n")
		}
	}
	return b.String()
}

type docText Document

func TestTheDocumentForTheCustomer(t *testing.T) {
	const path = "testdata/document.golden"
	got := docText(document()).String()
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the document has changed; read it and run with -update:\n%s", got)
	}
}

// O-57: the items of 16 CFR 701.3(a). (1) to (5) were read in the edition of
// 2003, (6) to (9) are from memory.
func TestTheDocumentHasTheItemsOfTheLaw(t *testing.T) {
	d := document()
	var items []string
	for _, s := range d.Sections {
		if s.Item != "" {
			items = append(items, s.Item)
			if len(s.Paragraphs) == 0 {
				t.Errorf("%s says nothing", s.Item)
			}
		}
	}
	if got := strings.Join(items, ""); got != "(a)(1)(a)(2)(a)(3)(a)(4)(a)(5)(a)(6)(a)(7)(a)(8)(a)(9)" {
		t.Error(got)
	}
	text := docText(d).String()
	for _, words := range []string{
		"AM0147P", "16 CFR 701.3(a)", "16 CFR 703.5(d)", "as an example", "counsel", "Local law goes first", "Sample, to be signed by the works' engineer",
		"3 March 2026", "3 March 2027", "12,000 miles", "no ground for refusal", "within 40 days", "specific legal rights", "Works Lane 1", "+44 1632 960147",
		"Wear in ordinary use", "Have the vehicle serviced",
	} {
		if !strings.Contains(text, words) {
			t.Errorf("the document does not say %q", words)
		}
	}
}

func TestTheDocumentNamesTheTermsThatTheVehicleHas(t *testing.T) {
	second := works()
	second.Version, second.Effective, second.Months, second.Title = 2, day("2026-03-04"), 24, "Two years"
	q := question()
	q.Terms = []Term{second, works()}
	if text := docText(Write(q, contact())).String(); strings.Contains(text, "Two years") || !strings.Contains(text, "One year") {
		t.Error("delivered the day before the second version, it has the second")
	}
	q.Facts.Delivered = day("2026-03-04")
	if text := docText(Write(q, contact())).String(); !strings.Contains(text, "Two years") || strings.Contains(text, "One year") {
		t.Error("delivered on the first day of the second version, it has not")
	}
	q.Terms[0].Sample, q.Terms[0].SignedBy = false, "the works' engineer"
	if d := Write(q, contact()); d.Sample || strings.Contains(docText(d).String(), "Sample") {
		t.Error("signed terms are called a sample")
	}
	q.Terms[0].Withdrawn = true
	if text := docText(Write(q, contact())).String(); !strings.Contains(text, "No term is on record") {
		t.Error("a term that was withdrawn before delivery is in the document")
	}
	q.Terms[0].Withdrawn, q.Terms[0].Releases = false, []string{"R1"}
	if d := Write(q, contact()); !d.Sample || !strings.Contains(docText(d).String(), "No term is on record") {
		t.Error("a term of another release is in the document")
	}
}
