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
		{"bearings", "bearing", true}, {"housings", "housing", true}, {"springs", "spring", true}, {"rings", "ring", true}, {"leaves", "leaf", true},
		{"carburetor", "carburettors", true}, {"color", "colours", true}, {"centre", "center", true}, {"worn", "wears", true},
		{"Öl", "Oel", true}, {"O\u0308L", "öl", true}, {"Getriebeöle", "getriebeoele", true}, {"Naß", "nass", true}, {"café", "cafe\u0301", true}, {"Öl", "Ol", false},
	} {
		if a, b := wordsOf(c.a), wordsOf(c.b); len(a) != 1 || len(b) != 1 || (a[0].concept == b[0].concept) != c.same {
			t.Errorf("%s (%v) and %s (%v): want the same %v", c.a, a, c.b, b, c.same)
		}
	}
}

// One thing is said in one word or two, with or without an apostrophe, straight
// or curled.
func TestWordsAreTheSameHoweverTheyAreWritten(t *testing.T) {
	for _, same := range [][]string{
		{"It won't start", "it won\u2019t start", "It wont start.", "will not start"},
		{"gear box", "gearbox", "Gear-box", "gear boxes"},
		{"oil on the half shaft", "oil on the halfshaft", "oil on the half-shafts"},
		{"end float", "endfloat", "end-float"},
		{"laid up", "a lay-up", "the layup"},
		{"it turns over", "turnover", "turning over"},
	} {
		want := concepts(same[0])
		for _, text := range same[1:] {
			if got := concepts(text); got != want {
				t.Errorf("%q says %q, %q says %q", same[0], want, text, got)
			}
		}
	}
}

func concepts(text string) string {
	var out []string
	for _, w := range wordsOf(text) {
		out = append(out, w.concept)
	}
	return strings.Join(out, " ")
}

// A word that nobody ever said is taken for one that differs by a slip.
func TestASlipOfTheKeysFindsTheWord(t *testing.T) {
	x := NewIndex()
	x.Put(Document{Key: "a", Texts: []string{"rumble of the propshaft"}})
	x.Put(Document{Key: "b", Texts: []string{"humble beginnings"}})
	for text, want := range map[string]string{
		"propshafft": "a", "porpshaft": "a", "propshft": "a", "propshart": "a", "pxopshxft": "", "rumble": "a", "humble": "b", "tumble": "a b", "prp": "",
	} {
		var got []string
		for _, f := range x.Like(Question{Text: text, Any: true}, nil) {
			got = append(got, f.Key)
		}
		if slices.Sort(got); strings.Join(got, " ") != want {
			t.Errorf("%q finds %v, want %q", text, got, want)
		}
	}
	if got := x.Like(Question{Text: "propshafft"}, nil)[0].Sentence(); got != "The word propshafft (propshaft there)." {
		t.Errorf("it says %q", got)
	}
}

// What somebody said is found, but no reason repeats a word of it that was not
// asked for.
func TestAReasonRepeatsNoWordThatSomebodySaid(t *testing.T) {
	e := Enquiry{Question: "Mr Hartley says it weeps", Symptom: "drip", Answers: []Answer{{Text: "Told Hartley of the shimmy."}}}
	x := NewIndex()
	x.Put(e.Document("x"))
	for text, want := range map[string]string{
		"hartly": "The word hartly.", "hartley": "The word hartley.", "wobble": "The word wobble.", "leak": "The word leak (drip there).",
	} {
		if found := x.Like(Question{Text: text}, nil); len(found) != 1 || found[0].Sentence() != want {
			t.Errorf("%q: %+v, want %q", text, found, want)
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
			if sharedWith(all, d, w.concept) {
				shared++
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

// sharedWith reports whether a document says a word, or where no document says
// it, one that a slip makes of it.
func sharedWith(all map[string]Document, d Document, concept string) bool {
	says := func(d Document, ok func(string) bool) bool {
		return slices.ContainsFunc(wordsOf(append(slices.Clone(d.Texts), d.Said...)...), func(w word) bool { return ok(w.concept) })
	}
	same := func(c string) bool { return c == concept }
	for _, o := range all {
		if says(o, same) {
			return says(d, same)
		}
	}
	return says(d, func(c string) bool { return len([]rune(concept)) >= 5 && slips(concept, c) })
}

// slips reports by trying each whether one slip makes b of a.
func slips(a, b string) bool {
	x, y := []rune(a), []rune(b)
	for i := range x {
		if string(slices.Concat(x[:i], x[i+1:])) == b { // one left out
			return true
		}
		if i+1 < len(x) && string(slices.Concat(x[:i], []rune{x[i+1], x[i]}, x[i+2:])) == b { // two changed about
			return true
		}
		if i < len(y) && len(x) == len(y) && string(slices.Concat(x[:i], y[i:i+1], x[i+1:])) == b { // another
			return true
		}
	}
	for i := range y { // one too many
		if string(slices.Concat(y[:i], y[i+1:])) == a {
			return true
		}
	}
	return false
}

// The index finds what looking at everything finds, in the same order, however
// it came to hold what it holds.
func TestTheIndexFindsWhatLookingAtEverythingFinds(t *testing.T) {
	word := rapid.SampledFrom([]string{"weep", "drips", "seal", "swivel", "noise", "rattling", "the", "whine", "start", "batteries", "winter", "oil",
		"propshaft", "propshfat", "propshafts", "swivle", "swiwel", "gear", "box", "housings"})
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
			d := Document{Key: key, Texts: []string{text.Draw(t, "text")}, Said: []string{text.Draw(t, "said")}, Positions: positions.Draw(t, "positions"), At: time.Unix(rapid.Int64Range(0, 3).Draw(t, "at"), 0)}
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
	if text := strings.Join(append(d.Texts, d.Said...), " "); strings.Contains(text, "marked") || !strings.Contains(text, "drip") || !strings.Contains(text, "a note") {
		t.Errorf("found by %q", text)
	}
	e.Person = ""
	d = e.Document("x")
	if text := strings.Join(append(d.Texts, d.Said...), " "); !strings.Contains(text, "marked words") || !strings.Contains(text, "marked answer") {
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
