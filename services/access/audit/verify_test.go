package audit

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/access"
	"halfshaft/services/vehicle"
)

// chain seals n lines; every third only reads.
func chain(n int) []Sealed {
	var out []Sealed
	var last Checkpoint
	for i := range n {
		l := Line{
			Time: march.AddDate(0, 0, i), Actor: fmt.Sprint("bench ", i), Role: access.Engineer,
			Method: "/halfshaft.build.v1.BuildService/RecordChange", Objects: []string{"builds/AM0147P"}, Outcome: Changed,
		}
		if i%3 == 0 {
			l.Outcome = Read
		}
		s, err := Seal(last, l.Text())
		if err != nil {
			panic(err)
		}
		out, last = append(out, s), s.Checkpoint()
	}
	return out
}

func each(lines []Sealed) iter.Seq2[Sealed, error] {
	return func(yield func(Sealed, error) bool) {
		for _, s := range lines {
			if !yield(s, nil) {
				return
			}
		}
	}
}

func verify(t interface{ Fatal(...any) }, lines []Sealed, e Expected) Report {
	r, err := Verify(each(lines), e)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

var spring = Expected{Today: vehicle.MustDate(2026, 5, 1)}

// naive is the second implementation: whether the lines are exactly a chain,
// worked out from the definition in deploy/AUDIT.md with nothing remembered.
func naive(lines []Sealed, e Expected) bool {
	hashes := map[int64]string{}
	for i, s := range lines {
		before := strings.Repeat("0", 64)
		if i > 0 {
			before = fmt.Sprintf("%x", lines[i-1].Hash[:])
		}
		if s.Text != "" {
			if fmt.Sprintf("%x", sha256.Sum256([]byte(s.Text))) != fmt.Sprintf("%x", s.TextSHA256[:]) {
				return false
			}
		} else if s.KeptUntil.String() >= e.Today.String() {
			return false
		}
		text := "halfshaft audit line 1\n" + fmt.Sprint(i+1) + "\n" + before + "\n" + s.KeptUntil.String() + "\n" + fmt.Sprintf("%x", s.TextSHA256[:]) + "\n"
		if fmt.Sprintf("%x", sha256.Sum256([]byte(text))) != fmt.Sprintf("%x", s.Hash[:]) || s.Sequence != int64(i+1) {
			return false
		}
		hashes[s.Sequence] = fmt.Sprintf("%x", s.Hash[:])
	}
	for _, c := range e.Checkpoints {
		if hashes[c.Sequence] != fmt.Sprintf("%x", c.Hash[:]) {
			return false
		}
	}
	return true
}

func TestAWholeChainHasNoFault(t *testing.T) {
	for _, n := range []int{0, 1, 2, 50} {
		lines := chain(n)
		e := spring
		e.Known = true
		for _, s := range lines {
			e.Checkpoints = append(e.Checkpoints, s.Checkpoint())
			e.End = s.Checkpoint()
		}
		if r := verify(t, lines, e); !r.Whole() || r.Lines != int64(n) || r.Last != e.End || !naive(lines, e) {
			t.Errorf("%d lines: got %+v", n, r)
		}
	}
}

// The hashes of the first two lines, worked out apart from this program with
// sha256sum from GNU coreutils over the lines that deploy/AUDIT.md describes.
func TestTheHashesAreThoseOfTheDescription(t *testing.T) {
	lines := chain(2)
	for i, want := range []string{
		"77e99cd620d08a34068fad9486197097860cfa30968541d2141073c21bfd2d30",
		"591a37ed4bc1b76416f33800f9c4e8e3ea80ed41e94da51969b287aa19797dc5",
	} {
		if got := lines[i].Hash.String(); got != want {
			t.Errorf("line %d: got %s, want %s", i+1, got, want)
		}
	}
}

func TestEachFaultIsNamedInASentence(t *testing.T) {
	forged := func(s Sealed, before Digest) Sealed {
		l, _ := Parse(s.Text)
		l.Actor = "somebody else"
		s, _ = Seal(Checkpoint{Sequence: s.Sequence - 1, Hash: before}, l.Text())
		return s
	}
	otherText := func(s Sealed) Sealed {
		s.Text = strings.Replace(s.Text, "bench", "bank", 1)
		return s
	}
	for name, c := range map[string]struct {
		mutate func([]Sealed) []Sealed
		e      Expected
		want   []string
	}{
		"a text changed": {func(l []Sealed) []Sealed { l[4] = otherText(l[4]); return l }, spring,
			[]string{"5 The text of line 5 was changed: it is not the one whose digest stands beside it."}},
		"a text changed with its digest": {func(l []Sealed) []Sealed {
			l[4] = otherText(l[4])
			l[4].TextSHA256 = sha256.Sum256([]byte(l[4].Text))
			return l
		}, spring, []string{"5 Line 5 does not follow from line 4: its text was changed, or line 4 was replaced by one with a hash of its own."}},
		"a hash changed": {func(l []Sealed) []Sealed { l[4].Hash[0] ^= 1; return l }, spring,
			[]string{"5 The hash of line 5 was changed: its text and the lines around it give another."}},
		"the last hash changed": {func(l []Sealed) []Sealed { l[8].Hash[0] ^= 1; return l }, spring,
			[]string{"9 Line 9 does not follow from line 8: one of them was changed, put in or taken out here."}},
		"the day changed": {func(l []Sealed) []Sealed { l[4].KeptUntil = vehicle.MustDate(2026, 4, 1); return l }, spring,
			[]string{"5 Line 5 was changed: its text is to be kept until 7 March 2036, and it says 1 April 2026.",
				"5 Line 5 does not follow from line 4: its text was changed, or line 4 was replaced by one with a hash of its own."}},
		"a line missing":    {func(l []Sealed) []Sealed { return slices.Delete(l, 4, 5) }, spring, []string{"5 Line 5 is missing."}},
		"the first missing": {func(l []Sealed) []Sealed { return l[1:] }, spring, []string{"1 Line 1 is missing."}},
		"three missing":     {func(l []Sealed) []Sealed { return slices.Delete(l, 4, 7) }, spring, []string{"5 Lines 5 to 7 are missing."}},
		"two exchanged": {func(l []Sealed) []Sealed { l[4], l[5] = l[5], l[4]; return l }, spring,
			[]string{"5 Line 5 is out of order: it stands after line 6."}},
		"two far apart exchanged": {func(l []Sealed) []Sealed { l[1], l[4] = l[4], l[1]; return l }, spring,
			[]string{"2 Line 2 is out of order: it stands after line 5.", "3 Line 3 is out of order: it stands after line 5.", "4 Line 4 is out of order: it stands after line 5."}},
		"a line twice":      {func(l []Sealed) []Sealed { return slices.Insert(l, 5, l[4]) }, spring, []string{"5 Line 5 is there twice."}},
		"an old line again": {func(l []Sealed) []Sealed { return append(l, l[2]) }, spring, []string{"3 Line 3 is there twice."}},
		"a number below one": {func(l []Sealed) []Sealed { l[0].Sequence = 0; return l }, spring,
			[]string{"0 There is a line with the number 0; numbers begin at 1.", "0 Line 0 is there twice.", "1 Line 1 is missing."}},
		"the end cut off, with a checkpoint": {func(l []Sealed) []Sealed { return l[:6] },
			Expected{Today: spring.Today, Checkpoints: []Checkpoint{chain(9)[8].Checkpoint()}},
			[]string{"7 Lines 7 to 9 are missing: the checkpoint at line 9 has them."}},
		"the end cut off, and the store knows": {func(l []Sealed) []Sealed { return l[:6] },
			Expected{Today: spring.Today, Known: true, End: chain(9)[8].Checkpoint()},
			[]string{"7 Lines 7 to 9 are missing: the store says that the chain ends there."}},
		"a line after the end": {func(l []Sealed) []Sealed { return l },
			Expected{Today: spring.Today, Known: true, End: chain(9)[7].Checkpoint()},
			[]string{"9 The store says that the chain ends at line 8; what stands after it was put in."}},
		"another end": {func(l []Sealed) []Sealed { return l },
			Expected{Today: spring.Today, Known: true, End: Checkpoint{Sequence: 9}},
			[]string{"9 The last line, 9, is not the one that the store says the chain ends with."}},
		"all made anew after a checkpoint": {func(l []Sealed) []Sealed {
			l[2] = forged(l[2], l[1].Hash)
			for i := 3; i < len(l); i++ {
				l[i], _ = Seal(l[i-1].Checkpoint(), l[i].Text)
			}
			return l
		}, Expected{Today: spring.Today, Checkpoints: []Checkpoint{{Sequence: 7, Hash: chain(9)[6].Hash, Time: march.AddDate(0, 1, 0)}}},
			[]string{"7 Line 7 is not the one of the checkpoint of 3 April 2026 at line 7: it or a line before it was changed since."}},
		"a line replaced, with a right hash": {func(l []Sealed) []Sealed { l[4] = forged(l[4], l[3].Hash); return l }, spring,
			[]string{"6 Line 6 does not follow from line 5: its text was changed, or line 5 was replaced by one with a hash of its own."}},
		"a text removed too early": {func(l []Sealed) []Sealed { l[4] = l[4].WithoutText(); return l },
			Expected{Today: vehicle.MustDate(2036, 3, 7)}, []string{"5 The text of line 5 is gone, though it is to be kept until 7 March 2036."}},
		"a text removed after its time": {func(l []Sealed) []Sealed { l[4] = l[4].WithoutText(); return l },
			Expected{Today: vehicle.MustDate(2036, 3, 8)}, nil},
		"a text removed early and its day changed": {func(l []Sealed) []Sealed {
			l[4] = l[4].WithoutText()
			l[4].KeptUntil = vehicle.MustDate(2026, 4, 1)
			return l
		}, spring, []string{"5 Line 5 does not follow from line 4: its text was changed, or line 4 was replaced by one with a hash of its own."}},
		"no line of the audit": {func(l []Sealed) []Sealed {
			l[8].Text = "{}"
			l[8].TextSHA256 = sha256.Sum256([]byte("{}"))
			l[8].Hash = l[8].hashAfter(l[7].Hash)
			return l
		}, spring, []string{"9 The text of line 9 was changed: it is no line of the audit."}},
	} {
		t.Run(name, func(t *testing.T) {
			var got []string
			for _, f := range verify(t, c.mutate(chain(9)), c.e).Faults {
				got = append(got, fmt.Sprint(f.Sequence, " ", f.Sentence))
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}

// mutation changes one thing in a chain and says at which numbers that may be
// named.
type mutation struct {
	name   string
	mutate func(t *rapid.T, lines []Sealed, at int) ([]Sealed, []int64)
}

var mutations = []mutation{
	{"a bit of the text", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		b := []byte(l[at].Text)
		b[rapid.IntRange(0, len(b)-1).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		l[at].Text = string(b)
		return l, []int64{l[at].Sequence}
	}},
	{"a bit of the text, as an export shows it", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		b := []byte(l[at].Text)
		b[rapid.IntRange(0, len(b)-1).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		l[at].Text, l[at].TextSHA256 = string(b), sha256.Sum256(b)
		return l, []int64{l[at].Sequence}
	}},
	{"a bit of the digest", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		l[at].TextSHA256[rapid.IntRange(0, 31).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		return l, []int64{l[at].Sequence}
	}},
	{"a bit of the hash", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		l[at].Hash[rapid.IntRange(0, 31).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		return l, []int64{l[at].Sequence}
	}},
	{"the day", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		l[at].KeptUntil = l[at].KeptUntil.AddDays(rapid.IntRange(-4000, -1).Draw(t, "days"))
		return l, []int64{l[at].Sequence}
	}},
	{"a bit of the number", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		n := l[at].Sequence
		l[at].Sequence ^= 1 << rapid.IntRange(0, 5).Draw(t, "bit")
		return l, []int64{n}
	}},
	{"the text away before its time", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		l[at] = l[at].WithoutText()
		return l, []int64{l[at].Sequence}
	}},
	{"a line out", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		n := l[at].Sequence
		return slices.Delete(l, at, at+1), []int64{n}
	}},
	{"a line twice", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		to := rapid.IntRange(0, len(l)).Draw(t, "to")
		return slices.Insert(l, to, l[at]), []int64{l[at].Sequence}
	}},
	{"two lines exchanged", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		with := rapid.IntRange(0, len(l)-1).Filter(func(i int) bool { return i != at }).Draw(t, "with")
		l[at], l[with] = l[with], l[at]
		return l, []int64{l[at].Sequence, l[with].Sequence}
	}},
	{"two lines exchanged under their numbers", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		with := rapid.IntRange(0, len(l)-1).Filter(func(i int) bool { return i != at }).Draw(t, "with")
		l[at], l[with] = l[with], l[at]
		l[at].Sequence, l[with].Sequence = l[with].Sequence, l[at].Sequence
		return l, []int64{l[at].Sequence, l[with].Sequence}
	}},
	{"a line put in and the rest given new numbers", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		before := Checkpoint{}
		if at > 0 {
			before = l[at-1].Checkpoint()
		}
		s, _ := Seal(before, Line{Time: march, Outcome: Changed}.Text())
		l = slices.Insert(l, at, s)
		for i := at + 1; i < len(l); i++ {
			l[i].Sequence++
		}
		return l, []int64{s.Sequence, s.Sequence + 1}
	}},
	{"a line out and the rest given new numbers", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		n := l[at].Sequence
		l = slices.Delete(l, at, at+1)
		for i := at; i < len(l); i++ {
			l[i].Sequence--
		}
		return l, []int64{n}
	}},
	{"the end cut off", func(t *rapid.T, l []Sealed, at int) ([]Sealed, []int64) {
		return l[:at], []int64{int64(at + 1)}
	}},
}

func TestAnySingleMutationIsFoundAndNamedAtItsPlace(t *testing.T) {
	for _, m := range mutations {
		t.Run(m.name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				whole := chain(rapid.IntRange(2, 20).Draw(t, "lines"))
				e := Expected{Today: vehicle.MustDate(2026, 5, 1), Checkpoints: []Checkpoint{whole[len(whole)-1].Checkpoint()}}
				if rapid.Bool().Draw(t, "late") { // some lines rightly have no text
					e.Today = vehicle.MustDate(2028, 3, 9)
					for i, s := range whole {
						if s.KeptUntil.Before(e.Today) {
							whole[i] = s.WithoutText()
						}
					}
				}
				at := rapid.IntRange(0, len(whole)-1).Filter(func(i int) bool { return whole[i].Text != "" }).Draw(t, "at")
				mutated, places := m.mutate(t, slices.Clone(whole), at)
				if slices.Equal(mutated, whole) {
					t.Skip("nothing changed")
				}
				r := verify(t, mutated, e)
				if naive(mutated, e) {
					t.Fatal("the second implementation finds nothing")
				}
				if len(r.Faults) == 0 {
					t.Fatalf("nothing found")
				}
				if !slices.ContainsFunc(r.Faults, func(f Fault) bool { return slices.Contains(places, f.Sequence) }) {
					t.Fatalf("named %v, want one of %v", r.Faults, places)
				}
			})
		})
	}
}

// What the two implementations call whole is the same, whatever is done to a
// chain.
func TestBothImplementationsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := chain(rapid.IntRange(0, 8).Draw(t, "lines"))
		e := Expected{Today: vehicle.MustDate(2028, 3, 5)}
		for range rapid.IntRange(0, 3).Draw(t, "mutations") {
			if len(lines) < 2 {
				break
			}
			at := rapid.IntRange(0, len(lines)-1).Draw(t, "at")
			if lines[at].Text == "" {
				continue
			}
			lines, _ = rapid.SampledFrom(mutations).Draw(t, "mutation").mutate(t, lines, at)
		}
		if r := verify(t, lines, e); r.Whole() != naive(lines, e) {
			// The naive one does not read texts: one that was never written by
			// Text is for Verify alone to find.
			t.Fatalf("Verify: %+v; the other: %v", r.Faults, naive(lines, e))
		}
	})
}

func TestAnErrorOfTheLinesEndsTheProof(t *testing.T) {
	gone := errors.New("gone")
	if _, err := Verify(func(yield func(Sealed, error) bool) { yield(Sealed{}, gone) }, spring); !errors.Is(err, gone) {
		t.Errorf("got %v", err)
	}
}

func TestAChainThatIsWrongEverywhereIsNamedInAHundredPlaces(t *testing.T) {
	lines := chain(300)
	for i := range lines {
		lines[i].Hash[3] ^= byte(i + 1)
	}
	if r := verify(t, lines, spring); len(r.Faults) != MaxFaults || r.Faults[0].Sequence != 1 {
		t.Errorf("%d faults, the first %+v", len(r.Faults), r.Faults[0])
	}
}

func BenchmarkVerify(b *testing.B) {
	lines := chain(10_000)
	b.ReportAllocs()
	began := time.Now()
	for b.Loop() {
		verify(b, lines, spring)
	}
	b.ReportMetric(float64(b.N)*10_000/time.Since(began).Seconds(), "lines/s")
}
