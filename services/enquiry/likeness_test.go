package enquiry

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestWordsOfTheTradeMeanTheSame(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"weep", "drips", true}, {"leaking", "seep", true}, {"dripping", "dripped", true}, {"tyres", "tire", true},
		{"starting", "starter", true}, {"batteries", "battery", true}, {"noises", "rattle", true}, {"brakes", "braking", true},
		{"gauges", "gauge", true}, {"switches", "switch", true}, {"brass", "bra", false}, {"knock", "whine", false},
		{"oil", "coolant", false}, {"speedo", "odometer", false}, {"lost", "missing", true},
	} {
		if got := conceptOf(c.a) == conceptOf(c.b); got != c.same {
			t.Errorf("%s (%s) and %s (%s): same %v", c.a, conceptOf(c.a), c.b, conceptOf(c.b), got)
		}
	}
}

func TestWhatIsAlikeSaysWhy(t *testing.T) {
	x := NewIndex()
	x.Put(Document{Key: "a", Texts: []string{"weep at the swivel seal"}, Positions: []string{"left-swivel-housing"}, Releases: []string{"R3"}})
	for _, c := range []struct {
		q    Question
		want string
	}{
		{Question{Text: "weep from the seal", Positions: []string{"left-swivel-housing"}, Release: "R3"}, "Same position, the words weep and seal, same release R3."},
		{Question{Text: "it drips", Positions: []string{"left-swivel-housing-oil-seal"}, Release: "R1"}, "Same position, the word drips (weep there)."},
		{Question{Text: "a seal", Positions: []string{"right-swivel-housing"}, Release: ""}, "The same place on the other side, the word seal."},
		{Question{Text: "", Positions: []string{"left-swivel-housing"}, Release: ""}, "Same position."},
		{Question{Text: "the gearbox whines", Positions: []string{"left-swivel-housing"}, Release: "R3"}, ""}, // the place alone is not enough where words are said
		{Question{Text: "nothing alike", Positions: nil, Release: "R3"}, ""},
	} {
		found, got := x.Like(c.q, nil), ""
		if len(found) > 0 {
			got = found[0].Sentence()
		}
		if got != c.want {
			t.Errorf("%+v: got %q, want %q", c.q, got, c.want)
		}
	}
}

// naive finds what is like a question by looking at everything, word against
// word: see Like.
func naive(all map[string]Document, q Question) []string {
	type hit struct {
		key   string
		score int
		at    time.Time
	}
	var hits []hit
	mine := wordsOf(q.Text)
	for key, d := range all {
		shared, score := 0, 0
		for _, w := range mine {
			for _, o := range wordsOf(d.Texts...) {
				if conceptOf(w.said) == conceptOf(o.said) {
					shared++
				}
			}
		}
		if len(mine) > 0 {
			score = 600 * shared / len(mine)
		}
		place := 0
		for _, a := range q.Positions {
			for _, b := range d.Positions {
				on := func(a, b string) bool { return strings.HasPrefix(a+"-", b+"-") || strings.HasPrefix(b+"-", a+"-") }
				switch {
				case on(a, b):
					place = 300
				case place == 0 && a != strings.TrimPrefix(strings.TrimPrefix(a, "left-"), "right-") && b != strings.TrimPrefix(strings.TrimPrefix(b, "left-"), "right-") &&
					on(a[strings.Index(a, "-")+1:], b[strings.Index(b, "-")+1:]):
					place = 200
				}
			}
		}
		score += place
		if score > 0 && q.Release != "" && slices.Contains(d.Releases, q.Release) {
			score += 100
		}
		if (score >= 200 || q.Any && score > 0) && (shared > 0 || len(mine) == 0) {
			hits = append(hits, hit{key, score, d.At})
		}
	}
	slices.SortFunc(hits, func(a, b hit) int {
		if a.score != b.score {
			return b.score - a.score
		}
		if !a.at.Equal(b.at) {
			return b.at.Compare(a.at)
		}
		return strings.Compare(a.key, b.key)
	})
	out := make([]string, len(hits))
	for i, h := range hits {
		out[i] = h.key
	}
	return out
}

// The index finds what looking at everything finds, in the same order, however
// it came to hold what it holds.
func TestTheIndexFindsWhatLookingAtEverythingFinds(t *testing.T) {
	word := rapid.SampledFrom([]string{"weep", "drips", "seal", "swivel", "noise", "rattling", "the", "whine", "start", "batteries", "winter", "oil"})
	text := rapid.Custom(func(t *rapid.T) string { return strings.Join(rapid.SliceOfN(word, 0, 5).Draw(t, "words"), " ") })
	positions := rapid.SliceOfN(rapid.SampledFrom([]string{
		"left-swivel-housing", "right-swivel-housing", "left-swivel-housing-oil-seal", "right-swivel-housing-oil-seal", "gearbox", "gearbox-main-shaft", "engine", "swivel"}), 0, 2)
	release := rapid.SampledFrom([]string{"", "R1", "R3"})
	rapid.Check(t, func(t *rapid.T) {
		x, all := NewIndex(), map[string]Document{}
		for range rapid.IntRange(0, 25).Draw(t, "changes") {
			key := fmt.Sprint(rapid.IntRange(0, 9).Draw(t, "key"))
			if rapid.IntRange(0, 4).Draw(t, "what") == 0 {
				x.Remove(key)
				delete(all, key)
				continue
			}
			d := Document{Key: key, Texts: []string{text.Draw(t, "text")}, Positions: positions.Draw(t, "positions"), At: time.Unix(rapid.Int64Range(0, 3).Draw(t, "at"), 0)}
			if r := release.Draw(t, "release"); r != "" {
				d.Releases = []string{r}
			}
			x.Put(d)
			all[key] = d
		}
		q := Question{text.Draw(t, "question"), positions.Draw(t, "asked of"), release.Draw(t, "of"), rapid.Bool().Draw(t, "any")}
		var got []string
		for _, f := range x.Like(q, nil) {
			got = append(got, f.Key)
		}
		if want := naive(all, q); !slices.Equal(got, want) && len(got)+len(want) > 0 {
			t.Fatalf("%+v over %+v:\ngot  %v\nwant %v", q, all, got, want)
		}
		for key := range all {
			x.Remove(key)
		}
		if len(x.byWord)+len(x.byPlace)+len(x.byWhole)+len(x.entries) > 0 {
			t.Fatalf("something of what was removed is left: %+v", x)
		}
	})
}

// Words of a person on record are in no index, whatever they said.
func TestWhatAPersonOnRecordSaidIsInNoIndex(t *testing.T) {
	e := Enquiry{Person: "p1", Question: "marked words", Symptom: "drip", Answers: []Answer{{Text: "marked answer", Links: []string{"answerNotes/a-note"}}}}
	d := e.Document("x")
	if text := strings.Join(d.Texts, " "); strings.Contains(text, "marked") || !strings.Contains(text, "drip") || !strings.Contains(text, "a note") {
		t.Errorf("found by %q", text)
	}
	e.Person = ""
	if text := strings.Join(e.Document("x").Texts, " "); !strings.Contains(text, "marked words") || !strings.Contains(text, "marked answer") {
		t.Errorf("of nobody on record, found by %q", text)
	}
}

func FuzzWords(f *testing.F) {
	for _, s := range []string{"It won't start after winter", "dripping, weeping & seeping", "ÄÖ", "'s", "ing", "ed es s"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, w := range wordsOf(text) {
			if w.concept == "" || w.said == "" {
				t.Errorf("%q has the word %+v", text, w)
			}
		}
	})
}
