package build

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// TraitsFrom says how it is known what a unit is like.
type TraitsFrom int

// The ways, numbered as in the API.
const (
	TraitsUnknown         TraitsFrom = iota // nothing says it, and there is nothing to take it to be like
	TraitsOfSpecification                   // it is the part called for, which the specification describes
	TraitsRecorded                          // the record of the unit says it
	TraitsOfFitment                         // a release has the part elsewhere, or otherwise than here, and describes it
	TraitsAssumed                           // nothing says it: taken to be like the part called for; see Fitted.Reasons
)

// fitmentOf is a fitment and the release that has it.
type fitmentOf struct {
	release *Release
	fitment *Fitment
	former  string  // the number by which the unit was known before an overhaul, which kept its traits
	change  *Change // that overhaul
}

// traitsFrom is how the traits of the part called for are known.
func (c called) traitsFrom() TraitsFrom {
	if c.fitment == nil {
		return TraitsUnknown
	}
	return TraitsOfSpecification
}

// findTraits finds what a unit is like whose record does not say. A part that
// is not the one called for is not like that one because it stands in its
// place: what a release says of it decides. Of a part that none knows the
// traits of the one called for are kept, because a service left out for want
// of a trait is the worse mistake, and marked as assumed.
func (r *replay) findTraits(f *Fitted, c called) {
	if c.fitment != nil && sameNumber(f.Component.Part, c.fitment.Part) {
		f.Component.Traits, f.TraitsFrom = c.fitment.Traits, TraitsOfSpecification
		return
	}
	if known := r.describes(f.Component.Part, f.Component.Position, c.release); known.fitment != nil {
		f.Component.Traits, f.TraitsFrom, f.source = known.fitment.Traits, TraitsOfFitment, known
		return
	}
	f.TraitsFrom = TraitsUnknown
	if c.fitment != nil && len(c.fitment.Traits) > 0 {
		f.Component.Traits, f.TraitsFrom = c.fitment.Traits, TraitsAssumed
		f.source = fitmentOf{release: c.release, fitment: c.fitment}
	}
}

// findTraitsAgain finds what a unit is like that an overhaul gave another
// number. Where no release knows that one, it is still the unit that stood
// there: what was known of it is more than what the specification has.
func (r *replay) findTraitsAgain(now, was *Fitted, c *Change) {
	now.source = fitmentOf{}
	r.findTraits(now, r.call(now.Component.Position))
	if (now.TraitsFrom == TraitsAssumed || now.TraitsFrom == TraitsUnknown) && len(was.Component.Traits) > 0 {
		now.Component.Traits, now.TraitsFrom, now.source = was.Component.Traits, TraitsAssumed, fitmentOf{former: was.Component.Part, change: c}
	}
}

// describes finds a fitment of a part: at the same position before any other;
// in the release that the position follows, then in the one the vehicle was
// built to, then in the others, the latest first; in a release the standard
// before the options.
func (r *replay) describes(part, position string, follows *Release) fitmentOf {
	if part == "" {
		return fitmentOf{}
	}
	var elsewhere fitmentOf
	folded := Fold(part)
	for _, release := range r.inOrderOfTrust(follows) {
		for f := range release.everyFitment {
			if f.Part != part && Fold(f.Part) != folded {
				continue
			}
			if f.Position == position {
				return fitmentOf{release: release, fitment: f}
			}
			if elsewhere.fitment == nil {
				elsewhere = fitmentOf{release: release, fitment: f}
			}
		}
	}
	return elsewhere
}

// inOrderOfTrust gives the releases in the order in which they are asked what a
// part is like.
func (r *replay) inOrderOfTrust(follows *Release) []*Release {
	var others []*Release
	for _, release := range r.releases {
		if release != follows && release != r.base {
			others = append(others, release)
		}
	}
	slices.SortFunc(others, func(a, b *Release) int {
		if a.newer(b) {
			return -1
		}
		return 1
	})
	return append(slices.Compact([]*Release{follows, r.base}), others...)
}

// everyFitment goes through the standard, then through the options.
func (r *Release) everyFitment(yield func(*Fitment) bool) {
	for i := range r.Fitments {
		if !yield(&r.Fitments[i]) {
			return
		}
	}
	for i := range r.Options {
		for k := range r.Options[i].Fitments {
			if !yield(&r.Options[i].Fitments[k]) {
				return
			}
		}
	}
}

func sameNumber(a, b string) bool { return a == b || Fold(a) == Fold(b) }

// traitsReason says where the traits are from, where that is not plain; false
// where it is.
func (f *Fitted) traitsReason() (vehicle.Reason, bool) {
	part, of := f.Component.Part, f.source
	r := vehicle.Reason{Facts: []vehicle.Fact{{Name: "part", Value: part}, {Name: "traits", Value: strings.Join(f.Component.Traits, ", ")}}}
	switch {
	case f.TraitsFrom == TraitsOfFitment && len(f.Component.Traits) > 0:
		where := ""
		if of.fitment.Position != f.Component.Position {
			where = " at the " + spoken(of.fitment.Position)
		}
		r.Rule, r.Record = "TRAITS_OF_FITMENT", ReleaseName(of.release.ID)
		r.Sentence = fmt.Sprintf("Release %s has %s%s and says what it is like: %s.", of.release.ID, part, where, spokenList(f.Component.Traits))
		return r, true
	case f.TraitsFrom != TraitsAssumed:
		return r, false
	}
	about := "which the specification calls for"
	if of.change != nil {
		about, r.Record = "the number that the unit had before", of.change.Name()
	} else {
		r.Record = ReleaseName(of.release.ID)
	}
	r.Rule, r.Facts = "TRAITS_ASSUMED", append(r.Facts, vehicle.Fact{Name: "like_part", Value: f.Likeness()})
	r.Sentence = fmt.Sprintf("What %s is like is not on record. It is taken to be like %s, %s (%s): "+
		"check on the vehicle before anything is filled in, adjusted or ordered by it.", part, f.Likeness(), about, spokenList(f.Component.Traits))
	return r, true
}

// Assumption says that what the unit is like is assumed, and of which part; false
// where it is known, or nothing is assumed.
func (f *Fitted) Assumption() (vehicle.Reason, bool) {
	if f.TraitsFrom != TraitsAssumed {
		return vehicle.Reason{}, false
	}
	return f.traitsReason()
}

// Likeness is the part that a unit is taken to be like whose traits are
// assumed; empty for any other.
func (f *Fitted) Likeness() string {
	switch {
	case f.TraitsFrom != TraitsAssumed:
		return ""
	case f.source.change != nil:
		return f.source.former
	}
	return f.source.fitment.Part
}

func spoken(id string) string { return strings.ReplaceAll(id, "-", " ") }

func spokenList(ids []string) string {
	words := make([]string, len(ids))
	for i, id := range ids {
		words[i] = spoken(id)
	}
	return wording.List(words, "and")
}
