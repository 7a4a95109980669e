package handbook_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"halfshaft/services/handbook"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/vehicle"
)

// demoBook reads the demo's book by its fields, as dumbly as a test may: the
// proper way over the API is tested in services/works.
func demoBook(t testing.TB) *handbook.Compiled {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/aldermoor/books/packhorse.v1.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var f bookFile
	d := yaml.NewDecoder(bytes.NewReader(raw))
	d.KnownFields(true)
	if err := d.Decode(&f); err != nil {
		t.Fatal(err)
	}
	c, err := handbook.Compile(f.book(), compiler(t))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func compiler(t testing.TB) *predicate.Compiler {
	t.Helper()
	c, err := predicate.NewCompiler()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

type warningFile struct{ Word, Text string }

func (w *warningFile) warning() *handbook.Warning {
	if w == nil {
		return nil
	}
	return &handbook.Warning{Word: w.Word, Text: w.Text}
}

type passageFile struct {
	AppliesWhen string `yaml:"applies_when"`
	Text        string
	Steps       *struct {
		Steps []struct {
			Text        string
			Warning     *warningFile
			AppliesWhen string `yaml:"applies_when"`
		}
	}
	Points *struct {
		Points []struct {
			Text        string
			AppliesWhen string `yaml:"applies_when"`
		}
	}
	Warning *warningFile
	Values  *struct {
		Kind, Caption string
		Of            []string
	}
	Picture *struct{ Kind, Caption string }
	Lines   *struct{ Labels []string }
}

type bookFile struct {
	Name, Title, Language string
	EffectiveDate         string `yaml:"effective_date"`
	Sample                bool
	Chapters              []struct {
		Title    string
		Sections []struct {
			SectionID   string `yaml:"section_id"`
			Title       string
			AppliesWhen string   `yaml:"applies_when"`
			IndexTerms  []string `yaml:"index_terms"`
			Passages    []passageFile
		}
	}
}

func (f *bookFile) book() *handbook.Book {
	b := &handbook.Book{ID: "packhorse", Version: 1, Title: f.Title, Language: f.Language, Sample: f.Sample, Effective: vehicle.MustDate(2008, 1, 1)}
	for _, c := range f.Chapters {
		chapter := handbook.Chapter{Title: c.Title}
		for _, s := range c.Sections {
			section := handbook.Section{ID: s.SectionID, Title: s.Title, AppliesWhen: s.AppliesWhen, Index: s.IndexTerms}
			for i := range s.Passages {
				section.Passages = append(section.Passages, s.Passages[i].passage())
			}
			chapter.Sections = append(chapter.Sections, section)
		}
		b.Chapters = append(b.Chapters, chapter)
	}
	return b
}

func (p *passageFile) passage() handbook.Passage {
	out := handbook.Passage{AppliesWhen: p.AppliesWhen, Text: p.Text, Warning: p.Warning.warning()}
	if p.Steps != nil {
		for _, s := range p.Steps.Steps {
			out.Steps = append(out.Steps, handbook.Step{Text: s.Text, Warning: s.Warning.warning(), AppliesWhen: s.AppliesWhen})
		}
	}
	if p.Points != nil {
		for _, s := range p.Points.Points {
			out.Points = append(out.Points, handbook.Point{Text: s.Text, AppliesWhen: s.AppliesWhen})
		}
	}
	if p.Values != nil {
		out.Values = &handbook.ValuesAsked{Caption: p.Values.Caption, Of: p.Values.Of}
		for k := handbook.Identity; k.Valid(); k++ {
			if k.String() == p.Values.Kind {
				out.Values.Kind = k
			}
		}
	}
	if p.Picture != nil {
		out.Picture = &handbook.PictureAsked{Caption: p.Picture.Caption}
		for k := handbook.RoadSpeedPicture; k.Valid(); k++ {
			if k.String() == p.Picture.Kind {
				out.Picture.Kind = k
			}
		}
	}
	if p.Lines != nil {
		out.Lines = p.Lines.Labels
	}
	return out
}

// demoFleet is what the demo's vehicles were built as: releases and options by
// their files, changes after delivery left aside.
func demoFleet(t testing.TB) map[string]vehicle.Makeup {
	t.Helper()
	type fitment struct {
		Position string
		Traits   []string
	}
	type release struct {
		Fitments []fitment
		Options  []struct {
			OptionID string `yaml:"option_id"`
			Fitments []fitment
			Removes  []string
		}
	}
	releases := map[string]release{}
	for _, name := range []string{"R1", "R2", "R3", "R4", "R5"} {
		raw, err := os.ReadFile("../../testdata/aldermoor/releases/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		var r release
		if err := yaml.Unmarshal(raw, &r); err != nil {
			t.Fatal(err)
		}
		releases[name] = r
	}
	raw, err := os.ReadFile("../../testdata/aldermoor/builds.csv")
	if err != nil {
		t.Fatal(err)
	}
	fleet := map[string]vehicle.Makeup{}
	for _, line := range strings.Split(strings.TrimSpace(string(raw)), "\n")[1:] {
		cells := strings.Split(line, ",")
		m := vehicle.Makeup{Release: cells[2], Wheelbase: cells[4], Market: cells[5], TyreSize: cells[7], Fitted: map[string][]string{}}
		if cells[3] != "" {
			m.Options = strings.Split(cells[3], "; ")
		}
		r := releases[m.Release]
		for _, f := range r.Fitments {
			m.Fitted[f.Position] = f.Traits
		}
		for _, o := range r.Options {
			if !slices.Contains(m.Options, o.OptionID) {
				continue
			}
			for _, f := range o.Fitments {
				m.Fitted[f.Position] = f.Traits
			}
			for _, p := range o.Removes {
				delete(m.Fitted, p)
			}
		}
		fleet[cells[0]] = m
	}
	if len(fleet) < 60 {
		t.Fatalf("the demo has %d vehicles", len(fleet))
	}
	return fleet
}

// echo is values that say what they were asked, and remember it. What differs
// between vehicles is only what a test puts into said.
type echo struct {
	said  map[string]string // by what is asked
	asked map[string]bool
}

func newEcho(said map[string]string) *echo { return &echo{said, map[string]bool{}} }

func (e *echo) answer(what string) string {
	e.asked[what] = true
	if text, ok := e.said[what]; ok {
		return text
	}
	return "the same for all"
}

func (e *echo) Value(a handbook.Ask) (handbook.Words, bool) {
	return handbook.Said(e.answer(a.String())), true
}

func (e *echo) Table(a handbook.ValuesAsked) (*handbook.Table, string) {
	return &handbook.Table{Caption: a.Caption, Columns: []handbook.Column{{Head: "x"}},
		Groups: []handbook.Group{{Rows: []handbook.Row{{Cells: []handbook.Cell{{Words: handbook.Said(e.answer("table " + a.Kind.String()))}}}}}}}, ""
}

func (e *echo) Picture(a handbook.PictureAsked) (*handbook.Picture, string) {
	return &handbook.Picture{Kind: a.Kind, Caption: a.Caption, Vehicle: e.answer("picture " + a.Kind.String())}, ""
}

// sectionsOf gives the text of each section.
func sectionsOf(t testing.TB, h *handbook.Handbook) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, c := range h.Chapters {
		for _, s := range c.Sections {
			raw, err := json.Marshal(s)
			if err != nil {
				t.Fatal(err)
			}
			out[s.ID] = string(raw)
		}
	}
	return out
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
