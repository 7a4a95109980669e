package handbook

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Bounds of a book, far above what one needs: they keep a slip from filling the
// store.
const (
	maxChapters = 60
	maxSections = 600   // of the book
	maxPassages = 60    // of a section
	maxItems    = 60    // of a list
	maxText     = 4_000 // characters
	maxTitle    = 120   // characters
)

var (
	bookID    = regexp.MustCompile(`^[a-z][a-z0-9-]{0,39}$`)
	sectionID = regexp.MustCompile(`^[a-z][a-z0-9-]{0,59}$`)
	language  = regexp.MustCompile(`^[a-z]{2,3}(-[A-Z]{2})?$`)
)

// Check refuses a book with anything wrong in it as Invalid, all of it at once.
func (b *Book) Check(compiler vehicle.PredicateCompiler) error {
	_, err := Compile(b, compiler)
	return err
}

// OutOfOrder says whether a version comes into force before an earlier one of its
// book, or after a later one, and what is wrong with its day then.
func (b *Book) OutOfOrder(other *Book) (wrong fault.Field, is bool) {
	if b.ID != other.ID || b.Version == other.Version {
		return fault.Field{}, false
	}
	is = other.Version < b.Version && other.Effective.After(b.Effective) || other.Version > b.Version && other.Effective.Before(b.Effective)
	return fault.Field{Name: "effective_date", Got: b.Effective.String(),
		Want: fmt.Sprintf("a day in the order of the versions: version %d is in force from %s", other.Version, other.Effective)}, is
}

// checker collects the faults of a book, and its predicates.
type checker struct {
	compiler vehicle.PredicateCompiler
	fields   []fault.Field
	sections map[string]bool
	refs     []reference
	made     map[string]vehicle.Predicate // by expression
	all      []Predicate
}

// reference is where a section is referred to.
type reference struct{ at, to string }

func (c *checker) must(ok bool, name, got, want string) {
	if !ok {
		c.fields = append(c.fields, fault.Field{Name: name, Got: got, Want: want})
	}
}

func (c *checker) book(b *Book) {
	c.must(bookID.MatchString(b.ID), "name", b.ID, "books/BOOK/versions/VERSION, BOOK of small letters, digits and hyphens")
	c.must(b.Version >= 1 && b.Version <= 9999, "name", strconv.Itoa(b.Version), "a version from 1 to 9999")
	c.title("title", b.Title, true)
	c.must(language.MatchString(b.Language), "language", b.Language, `a language, such as "en-GB"`)
	c.must(b.Effective.Valid(), "effective_date", b.Effective.String(), "a day of the calendar")
	c.must(b.Sample || strings.TrimSpace(b.SignedBy) != "", "signed_by", b.SignedBy, "who signed it, or sample")
	c.must(!b.Sample || b.SignedBy == "", "signed_by", fault.NotRepeated+")", "nobody: a sample is not signed")
	for i, r := range b.Releases {
		c.must(strings.TrimSpace(r) != "" && !slices.Contains(b.Releases[:i], r), fmt.Sprintf("releases[%d]", i), r, "a release, each once")
	}
	c.must(len(b.Chapters) > 0 && len(b.Chapters) <= maxChapters, "chapters", strconv.Itoa(len(b.Chapters)), fmt.Sprintf("1 to %d", maxChapters))
	sections := 0
	for i, chapter := range b.Chapters {
		at := fmt.Sprintf("chapters[%d]", i)
		c.title(at+".title", chapter.Title, true)
		c.must(len(chapter.Sections) > 0, at+".sections", "none", "at least one")
		for j := range chapter.Sections {
			c.section(fmt.Sprintf("%s.sections[%d]", at, j), &chapter.Sections[j])
		}
		if len(chapter.Sections) > 0 {
			c.must(chapter.Sections[0].Title != "", at+".sections[0].title", "", "a heading: there is no section before it to go on from")
		}
		sections += len(chapter.Sections)
	}
	c.must(sections <= maxSections, "chapters", fmt.Sprintf("%d sections", sections), fmt.Sprintf("at most %d", maxSections))
	for _, r := range c.refs {
		c.must(c.sections[r.to], r.at, r.to, "a section of this book")
	}
}

func (c *checker) title(name, text string, required bool) {
	c.must(!required || strings.TrimSpace(text) != "", name, text, "some words")
	c.must(!fault.Longer(text, maxTitle) && !strings.ContainsAny(text, "\n\r\t"), name, text, "one line of "+fault.AtMost(maxTitle))
}

func (c *checker) section(at string, s *Section) {
	c.must(sectionID.MatchString(s.ID), at+".section_id", s.ID, "small letters, digits and hyphens, a letter first")
	c.must(!c.sections[s.ID], at+".section_id", s.ID, "an identifier that no other section has")
	c.sections[s.ID] = true
	c.title(at+".title", s.Title, false)
	c.predicate(at, s.ID, s.AppliesWhen)
	for i, term := range s.Index {
		c.title(fmt.Sprintf("%s.index_terms[%d]", at, i), term, true)
	}
	c.must(len(s.Passages) > 0 && len(s.Passages) <= maxPassages, at+".passages", strconv.Itoa(len(s.Passages)), fmt.Sprintf("1 to %d", maxPassages))
	if s.Title == "" && len(s.Passages) > 0 {
		first := s.Passages[0]
		c.must(first.Text != "" && first.AppliesWhen == "", at+".passages[0]", first.AppliesWhen, "a text for all of the section's vehicles: without a heading references lead to it")
	}
	for i := range s.Passages {
		c.passage(fmt.Sprintf("%s.passages[%d]", at, i), s.ID, &s.Passages[i])
	}
}

func (c *checker) passage(at, section string, p *Passage) {
	c.predicate(at, section, p.AppliesWhen)
	given := 0
	if p.Text != "" {
		given++
		c.text(at+".text", p.Text)
	}
	if p.Steps != nil {
		given++
		c.must(len(p.Steps) > 0 && len(p.Steps) <= maxItems, at+".steps", strconv.Itoa(len(p.Steps)), fmt.Sprintf("1 to %d", maxItems))
		for i, s := range p.Steps {
			step := fmt.Sprintf("%s.steps.steps[%d]", at, i)
			c.text(step+".text", s.Text)
			c.predicate(step, section, s.AppliesWhen)
			c.warning(step+".warning", s.Warning)
		}
	}
	if p.Points != nil {
		given++
		c.must(len(p.Points) > 0 && len(p.Points) <= maxItems, at+".points", strconv.Itoa(len(p.Points)), fmt.Sprintf("1 to %d", maxItems))
		for i, s := range p.Points {
			point := fmt.Sprintf("%s.points.points[%d]", at, i)
			c.text(point+".text", s.Text)
			c.predicate(point, section, s.AppliesWhen)
		}
	}
	if p.Warning != nil {
		given++
		c.warning(at+".warning", p.Warning)
	}
	if p.Values != nil {
		given++
		c.must(p.Values.Kind.Valid(), at+".values.kind", p.Values.Kind.String(), "one of "+strings.Join(valuesNames[1:], ", "))
		c.title(at+".values.caption", p.Values.Caption, true)
	}
	if p.Picture != nil {
		given++
		c.must(p.Picture.Kind.Valid(), at+".picture.kind", p.Picture.Kind.String(), "one of "+strings.Join(pictureNames[1:], ", "))
		c.title(at+".picture.caption", p.Picture.Caption, true)
	}
	if p.Lines != nil {
		given++
		c.must(len(p.Lines) > 0 && len(p.Lines) <= maxItems, at+".lines.labels", strconv.Itoa(len(p.Lines)), fmt.Sprintf("1 to %d", maxItems))
		for i, label := range p.Lines {
			c.title(fmt.Sprintf("%s.lines.labels[%d]", at, i), label, true)
		}
	}
	c.must(given == 1, at, fmt.Sprintf("%d kinds of content", given), "a text, steps, points, a warning, values, a picture or lines")
}

func (c *checker) warning(at string, w *Warning) {
	if w == nil {
		return
	}
	c.title(at+".word", w.Word, false)
	c.text(at+".text", w.Text)
}

// text looks at the marks of a text.
func (c *checker) text(at, text string) {
	c.must(strings.TrimSpace(text) != "", at, text, "some words")
	c.must(!fault.Longer(text, maxText), at, fault.Length(text), fault.AtMost(maxText))
	pieces, wrong := markup(text)
	for _, want := range wrong {
		c.must(false, at, text, want)
	}
	for _, p := range pieces {
		if p.kind == asked && p.ask.Name == "see" && len(p.ask.Args) == 1 {
			c.refs = append(c.refs, reference{at, p.ask.Args[0]})
		}
	}
}

func (c *checker) predicate(at, section, expression string) {
	if expression == "" {
		return
	}
	c.all = append(c.all, Predicate{Where: at, Section: section, Expression: expression})
	if c.made[expression] != nil {
		return
	}
	p, problems := c.compiler.Compile(expression)
	for _, one := range problems {
		c.must(false, at+".applies_when", expression, one.String())
	}
	c.made[expression] = p
}
