package parts_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/parts"
)

func TestANumberIsFoundHoweverItIsWritten(t *testing.T) {
	c := catalogueOf(shedParts(), nil)
	for _, written := range []string{"AP-1010-L", "ap-1010-l", "AP1010L", "ap 1010 l", "A.P.1010/L", " AP–1010–L "} {
		if p := c.Find(written); p == nil || p.Number != "AP-1010-L" {
			t.Errorf("%q finds %v", written, p)
		}
	}
	if p := c.Find("AP-1010"); p != nil {
		t.Errorf("a part of a number finds %s", p.Number)
	}
}

func TestWordsFindPartsOfTheWholeCatalogue(t *testing.T) {
	c := catalogueOf(shedParts(), nil)
	for _, test := range []struct{ name, text, want string }{
		{"the title", "steering damper", "AP-6000"},
		{"a name comes before a longer title", "swivel seal", "AP-1101 AP-1100 AP-1190"},
		{"the plural", "pinion seals", "AP-5012"},
		{"a synonym", "lsd", "AP-5100"},
		{"a misspelling that the catalogue lists", "tranfer case", "AP-4000"},
		{"one letter wrong", "gearbux late", "AP-2002"},
		{"two neighbours swapped", "swviel gasket", "AP-1102"},
		{"the beginning of a word", "diff carr", "AP-5010"},
		{"a side keeps the other out", "swivel housing right", "AP-1010-R"},
		{"a word of the position", "brake servo", "AP-8200"},
		{"nothing", "flux capacitor", ""},
		{"stop words only", "which part do i need", ""},
	} {
		var got []string
		for _, f := range c.Search(test.text, 3) {
			got = append(got, f.Part.Number)
		}
		if strings.Join(got, " ") != test.want {
			t.Errorf("%s: %q finds %v, want %s", test.name, test.text, got, test.want)
		}
	}
}

// A catalogue that was changed part by part answers like one made of what is
// left.
func TestAChangedCatalogueIsLikeANewOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := parts.NewCatalogue()
		left, replaced := map[string]parts.Part{}, map[string]parts.Supersession{}
		for range rapid.IntRange(1, 40).Draw(t, "changes") {
			number, id := pick(t, "number", "A-1", "B-2", "C-3", "D-4"), pick(t, "id", "S1", "S2", "S3")
			switch rapid.IntRange(0, 3).Draw(t, "kind") {
			case 0:
				c.Remove(number)
				delete(left, number)
			case 1:
				c.RemoveSupersession(id)
				delete(replaced, id)
			case 2:
				s := parts.Supersession{ID: id, Old: number, New: lines(line(pick(t, "new", "A-1", "B-2", "C-3"), 1)), Effective: day(pick(t, "day", "2010-01-01", "2011-01-01"))}
				c.PutSupersession(s)
				replaced[id] = s
			default:
				p := part(number, pick(t, "title", "swivel seal", "gear box", "seal"), words(pick(t, "words", "lip", "swivel", "cog")),
					at(pick(t, "position", "hub-front", "gearbox")))
				c.Put(p)
				left[number] = p
			}
			if rapid.Bool().Draw(t, "read between") {
				c.Seal()
			}
		}
		c.Seal()
		fresh := parts.NewCatalogue()
		for _, p := range left {
			fresh.Put(p)
		}
		for _, s := range replaced {
			fresh.PutSupersession(s)
		}
		fresh.Seal()
		for _, text := range []string{"seal", "swivel seal", "cog", "hub seal", "gearbox", "swivle", "lip"} {
			if got, want := found(c, text), found(fresh, text); !slices.Equal(got, want) {
				t.Fatalf("%q: got %v, want %v", text, got, want)
			}
		}
		if got, want := numbers(c), numbers(fresh); !slices.Equal(got, want) {
			t.Fatalf("numbers %v, want %v", got, want)
		}
		if got, want := texts(c.Check(nil)), texts(fresh.Check(nil)); !slices.Equal(got, want) {
			t.Fatalf("check %v, want %v", got, want)
		}
	})
}

func found(c *parts.Catalogue, text string) []string {
	var out []string
	for _, f := range c.Search(text, 10) {
		out = append(out, f.Part.Number)
	}
	return out
}

func numbers(c *parts.Catalogue) []string {
	var out []string
	for _, p := range c.PartsAfter("", c.Len()) {
		out = append(out, p.Number)
	}
	for _, s := range c.SupersessionsAfter("", 10) {
		out = append(out, s.ID)
	}
	return out
}

// FuzzQuestion asks the shed anything: it always answers, with something to
// read out, and never with several candidates and no question.
func FuzzQuestion(f *testing.F) {
	for _, c := range cases {
		f.Add(c.question)
	}
	f.Add("\xff\xfe left \u202e AP–")
	c := catalogueOf(shedParts(), shedSupersessions())
	vehicles := []life{built("AM0101", "R1", "winch"), built("AM0102", "R2", "lsd-rear", "soft-top")}
	f.Fuzz(func(t *testing.T, question string) {
		if len(question) > 400 {
			return // the server refuses more than 200 characters
		}
		for _, l := range vehicles {
			a := askOf(t, c, shedReleases(), l, today, question)
			if len(a.Choices) == 0 && (a.Refusal == nil || a.Refusal.Sentence == "" || a.Refusal.Rule == "") {
				t.Fatalf("%q: no answer", question)
			}
			if len(a.Choices) > 1 && a.AskBack == "" {
				t.Fatalf("%q: %d choices and no question", question, len(a.Choices))
			}
			for _, choice := range a.Choices {
				if choice.Order == nil || choice.Quantity < 1 || len(choice.Reasons) == 0 || !choice.Order.Available() {
					t.Fatalf("%q: %+v", question, choice)
				}
			}
		}
	})
}
