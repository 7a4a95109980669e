package bulletin_test

import (
	"encoding/json"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"halfshaft/services/bulletin"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/vehicle"
)

// TestASetIsWhatANaiveScanFinds compares random sets over random vehicles with
// moved components against the plain implementation: the lists of all, and of
// each twentieth what is said of every vehicle. The long form in
// membership_long_test.go takes 1,000 sets over 10,000 vehicles.
func TestASetIsWhatANaiveScanFinds(t *testing.T) {
	if testing.Short() || racetest.On { // make test runs this package without the race detector
		compareSets(t, 300, 100)
		return
	}
	compareSets(t, 1_000, 200)
}

func compareSets(t *testing.T, fleetSize, sets int) {
	t.Helper()
	w := newWorld(fleetSize, 1)
	f, plain, c := w.fleet(t), w.naives(), compiler(t)
	r := rand.New(rand.NewPCG(2, 3))
	tally := map[string]int{}
	var naiveTime, realTime time.Duration
	for i := range sets {
		set := w.randomSet(r)
		ready, err := bulletin.Prepare(bulletinFor(set), c)
		if err != nil {
			t.Fatal(err)
		}
		began := time.Now()
		answers := map[vehicle.Serial]string{}
		var want []vehicle.Serial
		for k := range plain {
			a := w.membership(&plain[k], &set)
			answers[plain[k].rec.Serial] = a
			tally[a]++
			if a != "no" {
				want = append(want, plain[k].rec.Serial)
			}
		}
		naiveTime += time.Since(began)
		began = time.Now()
		got := ready.Members(f)
		realTime += time.Since(began)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			text, _ := json.Marshal(set)
			at := firstDifference(got, want)
			m, _ := ready.Match(f, at)
			t.Fatalf("set %d, %s: %d members, the naive scan has %d; first difference at %s: naive %s, ours %v: %s; changes %+v",
				i, text, len(got), len(want), at, answers[at], m.State, m.Sentence(), w.changes[at])
		}
		if i%20 == 0 {
			comparePreview(t, w, &set, ready.Preview(f), plain, answers, tally)
		}
	}
	moved := 0
	for _, changes := range w.changes {
		for _, c := range changes {
			if c.Counterpart != "" && !c.Date.After(w.on) {
				moved++
			}
		}
	}
	t.Logf("%d sets over %d vehicles with %d moved components: in %d, cannot be told %d, out %d; of the previews near %d, out %d; naive %v, ours %v",
		sets, fleetSize, moved/2, tally["yes"], tally["?"], tally["no"], tally["near"], tally["out"], naiveTime.Round(time.Millisecond), realTime.Round(time.Millisecond))
	for _, kind := range []string{"yes", "?", "no", "near", "out"} {
		if tally[kind] == 0 {
			t.Errorf("no vehicle was ever %q: the test tests nothing", kind)
		}
	}
	if moved < fleetSize/2 {
		t.Errorf("only %d components moved", moved/2)
	}
}

func firstDifference(a, b []vehicle.Serial) vehicle.Serial {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return min(a[i], b[i])
		}
	}
	return append(append(slices.Clone(a), b...), "")[min(len(a), len(b))]
}

func comparePreview(t *testing.T, w *world, set *bulletin.Set, p bulletin.Preview, plain []naive, answers map[vehicle.Serial]string, tally map[string]int) {
	t.Helper()
	if len(p.Matches) != len(plain) || p.In+p.Unknown+p.Near+p.Out != len(plain) {
		t.Fatalf("%d matches of %d vehicles, counted as %d", len(p.Matches), len(plain), p.In+p.Unknown+p.Near+p.Out)
	}
	bySerial := map[vehicle.Serial]*naive{}
	for i := range plain {
		bySerial[plain[i].rec.Serial] = &plain[i]
	}
	for i := range p.Matches {
		m := &p.Matches[i]
		n := bySerial[m.Serial]
		if len(m.Reasons) == 0 || m.Sentence() == "" {
			t.Fatalf("%s is %v without a reason", m.Serial, m.State)
		}
		want := map[string]bulletin.MatchState{"yes": bulletin.In, "?": bulletin.Unknown, "no": bulletin.Out}[answers[m.Serial]]
		if want == bulletin.Out && !slices.Contains(set.Except, m.Serial) {
			any, beside := w.flippable(n, set)
			switch {
			case beside:
				want = bulletin.Near
				tally["near"]++
			case any && m.State == bulletin.Near: // by itself, if it is close
				want = bulletin.Near
				if by := m.Reasons[0].Fact("by"); by == "" {
					t.Fatalf("%s is near for want of a single condition, and nobody says by how much: %s", m.Serial, m.Sentence())
				}
			default:
				tally["out"]++
			}
		}
		if m.State != want {
			t.Fatalf("%s is %v, want %v: %s; set %+v", m.Serial, m.State, want, m.Sentence(), *set)
		}
	}
}
