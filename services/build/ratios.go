package build

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// The positions at which the parts stand that a release gives ratios for. The
// axle ratio is recorded by itself: front and rear have one.
const (
	GearboxPosition      = "gearbox"
	TransferCasePosition = "transfer-case"
)

// rangeNames are the ranges of a transfer case, in the order of its ratios.
var rangeNames = [...]string{"high", "low"}

// ratios gives the ratios that the release has for a part at a position; nil
// when it says nothing.
func (r *Release) ratios(position, part string) []vehicle.Decimal {
	if f := r.Fitment(position); f != nil && f.Part == part {
		return r.Driveline.ratios(position)
	}
	for i := range r.Options {
		if f := r.Options[i].Fitment(position); f != nil && f.Part == part && len(f.Ratios) > 0 {
			return f.Ratios
		}
	}
	return nil
}

// ratios gives those of the standard part at a position.
func (d *Driveline) ratios(position string) []vehicle.Decimal {
	switch {
	case position == GearboxPosition:
		return d.Gears
	case position != TransferCasePosition || d.TransferHigh.Sign() == 0:
		return nil
	case d.TransferLow.Sign() == 0:
		return []vehicle.Decimal{d.TransferHigh}
	}
	return []vehicle.Decimal{d.TransferHigh, d.TransferLow}
}

// ratiosAt gives the ratios of what stands at a position, the release that says
// so, and the reason: where they are from, or why they are not known.
func (c *Configuration) ratiosAt(position string, releases ReleaseSet) ([]vehicle.Decimal, *Release, vehicle.Reason) {
	f, what := c.At(position), strings.ReplaceAll(position, "-", " ")
	rule := strings.ToUpper(strings.ReplaceAll(position, "-", "_")) + "_RATIOS"
	unknown := vehicle.Reason{Rule: rule + "_UNKNOWN", Record: Name(c.Serial)}
	if f == nil {
		unknown.Sentence = fmt.Sprintf("Nothing stands at the %s on that day, so its ratios are not known.", what)
		return nil, nil, unknown
	}
	part := f.Component.Part
	if f.Change != "" {
		unknown.Record = f.Change
	}
	ratios, from, rival := releases.ratiosOf(position, part, f.Release)
	switch {
	case from == nil:
		unknown.Sentence = fmt.Sprintf("At the %s stands %s, for which no release gives ratios.", what, describe(&f.Component))
	case rival != nil:
		unknown.Sentence = fmt.Sprintf("At the %s stands %s, for which releases %s and %s give different ratios.",
			what, describe(&f.Component), from.ID, rival.ID)
	default:
		return ratios, from, vehicle.Reason{
			Rule: rule, Record: ReleaseName(from.ID),
			Facts:    []vehicle.Fact{{Name: "part", Value: part}, {Name: "release", Value: from.ID}, {Name: "ratios", Value: ratioText(ratios)}},
			Sentence: fmt.Sprintf("The %s is %s; release %s gives its ratios: %s.", what, part, from.ID, ratioText(ratios)),
		}
	}
	unknown.Facts = unitFacts(&f.Component)
	return nil, nil, unknown
}

// ratiosOf gives what is said of a part at a position, and by which release. The
// release that the position follows decides; where it says nothing, all others
// that speak must agree, or rival is one that does not.
func (s ReleaseSet) ratiosOf(position, part, follows string) (ratios []vehicle.Decimal, from, rival *Release) {
	if r := s[follows]; r != nil {
		if ratios = r.ratios(position, part); len(ratios) > 0 {
			return ratios, r, nil
		}
	}
	for _, r := range newestFirst(s) {
		given := r.ratios(position, part)
		switch {
		case len(given) == 0:
		case from == nil:
			ratios, from = given, r
		case !sameRatios(ratios, given):
			return ratios, from, r
		}
	}
	return ratios, from, nil
}

// ranges names the ratios of a transfer case.
func ranges(ratios []vehicle.Decimal) []drivetrain.Range {
	var out []drivetrain.Range
	for i, ratio := range ratios {
		out = append(out, drivetrain.Range{Name: rangeNames[i], Ratio: ratio})
	}
	return out
}

func newestFirst(releases ReleaseSet) []*Release {
	all := make([]*Release, 0, len(releases))
	for _, r := range releases {
		all = append(all, r)
	}
	slices.SortFunc(all, func(a, b *Release) int {
		if a.newer(b) {
			return -1
		}
		return 1
	})
	return all
}

func sameRatios(a, b []vehicle.Decimal) bool {
	return slices.EqualFunc(a, b, func(x, y vehicle.Decimal) bool { return x.Cmp(y) == 0 })
}

func ratioText(ratios []vehicle.Decimal) string {
	texts := make([]string, len(ratios))
	for i, r := range ratios {
		texts[i] = r.String()
	}
	return strings.Join(texts, ", ")
}
