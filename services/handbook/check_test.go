package handbook_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/vehicle"
)

// small is a book with nothing wrong in it.
func small() *handbook.Book {
	return &handbook.Book{
		ID: "small", Version: 1, Title: "Handbook", Language: "en-GB", Effective: vehicle.MustDate(2026, 1, 1), Sample: true,
		Chapters: []handbook.Chapter{{Title: "One", Sections: []handbook.Section{
			{ID: "a", Title: "A", Passages: []handbook.Passage{{Text: "See {see b}."}}},
			{ID: "b", Title: "B", AppliesWhen: `"winch" in options`, Passages: []handbook.Passage{{Warning: &handbook.Warning{Text: "Mind the rope."}}}},
		}}},
	}
}

func faultsOf(t *testing.T, b *handbook.Book) []string {
	t.Helper()
	err := b.Check(compiler(t))
	if err == nil {
		return nil
	}
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Invalid {
		t.Fatalf("%v", err)
	}
	var names []string
	for _, one := range f.Fields {
		names = append(names, one.Name)
	}
	return names
}

func TestWhatIsWrongWithABookIsNamed(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*handbook.Book)
		want  string
	}{
		{"nothing", func(*handbook.Book) {}, ""},
		{"no title", func(b *handbook.Book) { b.Title = " " }, "title"},
		{"no language", func(b *handbook.Book) { b.Language = "English" }, "language"},
		{"no day", func(b *handbook.Book) { b.Effective = vehicle.Date{} }, "effective_date"},
		{"nobody signed what is no sample", func(b *handbook.Book) { b.Sample = false }, "signed_by"},
		{"no chapter", func(b *handbook.Book) { b.Chapters = nil }, "chapters"},
		{"a section twice", func(b *handbook.Book) { b.Chapters[0].Sections[0].ID = "b" }, "chapters[0].sections[1].section_id"},
		{"a reference to nowhere", func(b *handbook.Book) { b.Chapters[0].Sections[0].Passages[0].Text = "See {see c}." }, "chapters[0].sections[0].passages[0].text"},
		{"a predicate that is none", func(b *handbook.Book) { b.Chapters[0].Sections[1].AppliesWhen = "winch" }, "chapters[0].sections[1].applies_when"},
		{"a passage of nothing", func(b *handbook.Book) { b.Chapters[0].Sections[0].Passages[0].Text = "" }, "chapters[0].sections[0].passages[0]"},
		{"a passage of two things", func(b *handbook.Book) { b.Chapters[0].Sections[1].Passages[0].Text = "too" }, "chapters[0].sections[1].passages[0]"},
		{"a table that is none", func(b *handbook.Book) {
			b.Chapters[0].Sections[1].Passages[0] = handbook.Passage{Values: &handbook.ValuesAsked{Caption: "x"}}
		}, "chapters[0].sections[1].passages[0].values.kind"},
		{"the first section without a heading", func(b *handbook.Book) { b.Chapters[0].Sections[0].Title = "" }, "chapters[0].sections[0].title"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := small()
			c.spoil(b)
			got := faultsOf(t, b)
			if c.want == "" && len(got) > 0 || c.want != "" && !slices.Contains(got, c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestEverythingThatIsWrongWithABookIsSaidAtOnce(t *testing.T) {
	b := small()
	b.Title, b.Language = "", ""
	b.Chapters[0].Sections[0].Passages[0].Text = "{nonsense} {see c}"
	if got := faultsOf(t, b); len(got) != 4 {
		t.Errorf("got %q", got)
	}
}

// A value that a vehicle has none of is a problem, and never a blank.
func TestAMissingValueIsNamedWithItsSection(t *testing.T) {
	b := small()
	b.Chapters[0].Sections[0].Passages[0].Text = "Fill in {capacity winch}. See {see b}."
	c, err := handbook.Compile(b, compiler(t))
	if err != nil {
		t.Fatal(err)
	}
	made := c.Make(handbook.Subject{Serial: "AM0147P"}, &handbook.Record{})
	want := []string{"a: there is no value for {capacity winch}", "a: it refers to the section b, which this vehicle's handbook does not have"}
	if !slices.Equal(made.Problems, want) {
		t.Errorf("got %q", made.Problems)
	}
}

func TestAChoiceIsSaidInWords(t *testing.T) {
	b := small()
	b.Chapters[0].Sections[1].AppliesWhen = `"winch" in fitted && "wire" in fitted["winch"] && !("hard-top" in fitted)`
	c, err := handbook.Compile(b, compiler(t))
	if err != nil {
		t.Fatal(err)
	}
	made := c.Make(handbook.Subject{Serial: "AM0147P", Makeup: vehicle.Makeup{Fitted: map[string][]string{"winch": {"wire"}}}}, &handbook.Record{})
	if len(made.Choices) != 1 || !made.Choices[0].Included {
		t.Fatalf("%+v", made.Choices)
	}
	got := made.Choices[0].Reason.Sentence
	if want := "“B” is for vehicles with the trait “wire” at the winch and without a hard top, and this is one."; got != want {
		t.Errorf("got %s", got)
	}
	if strings.Contains(got, "fitted[") {
		t.Error("an expression is read out to a customer")
	}
}
