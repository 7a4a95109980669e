package drivetrain

import (
	"cmp"
	"slices"
)

// The law that the advice looks at is UN Regulation No. 39 § 5.3: the speed
// shown, V1, is never below the true speed V2, and at 40, 80 and 120 km/h
// 0 <= V1 - V2 <= V2/10 + 4 km/h.
//
// It is what is asked of new vehicles where the Regulation applies. Whether an
// old vehicle needs it, and who may change its drive, is for local law.
var lawSpeeds = [...]float64{40, 80, 120}

// Allowed gives the least and the most that a dial may read at a true speed,
// all in km/h, by UN Regulation No. 39 § 5.3.
func Allowed(trueSpeed float64) (least, most float64) { return trueSpeed, trueSpeed*1.1 + 4 }

// Fit is what the dial reads with one pair of gears.
type Fit struct {
	Teeth Teeth
	Reads float64    // shown over true
	Band  []BandTest // at each speed of the law, the slowest first
	Meets bool       // whether all of them are in the band

	// Surely says that they are in it whatever the circumference is within its
	// tolerance.
	Surely bool
}

// BandTest is one speed of the law, in km/h.
type BandTest struct {
	True, Indicated float64
	Least, Most     float64 // of what may be indicated
	Within          bool
}

// Advice is what can be done about what a speedometer reads.
type Advice struct {
	Now         Fit     // as it stands
	Least, Most float64 // of driver over driven teeth, that bring it into the band
	Pairs       []Fit   // of those to choose from, those in the band, the best first
	Nearest     Fit     // the pair to choose from that comes nearest; zero when there is none to choose from
}

// Advise looks for pairs of gears that bring the dial into the band of the law.
// A pair that is in it whatever the tyre is within its tolerance goes before
// one that is not; among these, the nearer to the truth goes first, and of two
// that read alike the pair that is fitted. No pair at all is an answer.
func (s Speedometer) Advise(choice []Teeth) Advice {
	one := s
	one.Drive.DriverTeeth, one.Drive.DrivenTeeth = 1, 1
	perRatio := one.Reads() // of a driver and driven gear of like teeth
	a := Advice{
		Now:   s.fit(Teeth{s.Drive.DriverTeeth, s.Drive.DrivenTeeth}),
		Least: 1 / perRatio, Most: mostReads() / perRatio,
	}
	var all []Fit
	for _, t := range choice {
		if len(t.Validate()) == 0 {
			all = append(all, s.fit(t))
		}
	}
	slices.SortStableFunc(all, func(x, y Fit) int {
		return cmp.Or(cmp.Compare(distance(x.Reads), distance(y.Reads)), a.Now.other(x)-a.Now.other(y),
			cmp.Compare(x.Teeth.Driven, y.Teeth.Driven), cmp.Compare(x.Teeth.Driver, y.Teeth.Driver))
	})
	all = slices.CompactFunc(all, func(x, y Fit) bool { return x.Teeth == y.Teeth })
	if len(all) > 0 {
		a.Nearest = slices.MinFunc(all, func(x, y Fit) int { return cmp.Compare(outside(x.Reads), outside(y.Reads)) })
	}
	for _, sure := range []bool{true, false} {
		for _, f := range all {
			if f.Meets && f.Surely == sure {
				a.Pairs = append(a.Pairs, f)
			}
		}
	}
	return a
}

// other is 0 for the pair of f, and 1 for any other.
func (f Fit) other(x Fit) int {
	if x.Teeth == f.Teeth {
		return 0
	}
	return 1
}

// fit looks at one pair, in lowest terms: 5/15 and 6/18 then read the same to
// the last digit.
func (s Speedometer) fit(t Teeth) Fit {
	n := divisor(t.Driver, t.Driven)
	s.Drive.DriverTeeth, s.Drive.DrivenTeeth = t.Driver/n, t.Driven/n
	f := Fit{Teeth: t, Reads: s.Reads(), Meets: true, Surely: true}
	for _, v := range lawSpeeds {
		least, most := Allowed(v)
		b := BandTest{True: v, Indicated: v * f.Reads, Least: least, Most: most}
		b.Within = within(b.Indicated, least, most)
		f.Meets = f.Meets && b.Within
		f.Band = append(f.Band, b)
		// A larger tyre turns the cable less often in a mile.
		f.Surely = f.Surely && within(v*f.Reads/(1+s.Tyre.Tolerance), least, most) &&
			within(v*f.Reads/(1-s.Tyre.Tolerance), least, most)
	}
	return f
}

// divisor is the greatest common one.
func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, 1)
}

// within compares with a hair's breadth for the last digits of a quotient.
func within(v, least, most float64) bool {
	const hair = 1e-9
	return v >= least*(1-hair) && v <= most*(1+hair)
}

// mostReads is the most that shown over true may be at every speed of the law.
func mostReads() float64 {
	tightest := 0.0
	for _, v := range lawSpeeds {
		if _, most := Allowed(v); tightest == 0 || most/v < tightest {
			tightest = most / v
		}
	}
	return tightest
}

// distance is how far from the truth a dial reads, as a fraction.
func distance(reads float64) float64 { return max(reads-1, 1-reads) }

// outside is how far outside the band a dial reads; 0 in it.
func outside(reads float64) float64 { return max(1-reads, reads-mostReads(), 0) }
