package parts

import (
	"slices"
	"strings"
)

// datum is a fluid or a setting with the words it is asked for by.
type datum struct {
	site     *site  // nil for one of a position that the vehicle does not have
	position string // where it goes
	fluid    *Capacity
	setting  *Setting
	open     string // where the records do not tell which of several holds: what would; empty where they do

	own     []string   // of the fluid itself, or of what is set
	helping []string   // those of its own that also name parts: only beside another
	whole   []string   // all of which say what is set in full: "idle" beside "speed"
	loosely []string   // what people call any fluid, or any setting
	place   []string   // of where it goes
	names   [][]string // of the place as a whole: each is all the words of one name
	lent    [][]string // of the place on it that the subject of a setting speaks of
	small   [][]string // of all places on it, which may stand for it where it has no subject: "wheel bearing grease"
}

// What people call any fluid: many ask for the oil of what has grease in it.
// And what they call any setting.
var (
	anyFluid   = []string{"fluid", "capacity", "lubricant", "oil", "grease", "grade"}
	anySetting = []string{"setting", "value", "tightened"}
)

// saidFor are words for what is set that people say instead of the one that is
// written, the singular of each.
var saidFor = map[string][]string{
	"deflection": {"tension", "slack"}, "end-float": {"endfloat", "play"}, "idle-speed": {"tickover", "idling"},
	"ignition-advance": {"timing"}, "toe-in": {"tracking", "alignment"}, "torque": {"tight"}, "run-out": {"runout"},
}

// helpsWith are words that people put beside it.
var helpsWith = map[string][]string{
	"inlet-clearance": {"valve", "tappet", "rocker"}, "exhaust-clearance": {"valve", "tappet", "rocker"},
}

// coolantWords are what people call what is in a radiator.
var coolantWords = []string{"antifreeze", "coolant"}

// besides are words of a question about a fluid or a setting that tell nothing:
// "how much does it take", "how tight are they".
var besides = []string{"how", "much", "many", "doe", "take", "go", "are", "should", "be", "use", "right", "correct", "there"}

// fluidDatum takes the words of a fluid apart: what it is, "oil", and its grade
// make a question one about a fluid; "light", "damper" or "engine" may be part
// of what a part is called.
func fluidDatum(f *Capacity) datum {
	d := datum{position: f.Position, fluid: f, loosely: anyFluid}
	family := wordsOf(f.Family)
	isFluid := func(w string) bool { return slices.Contains(anyFluid, w) }
	ownFamily := len(family) > 0 && !slices.ContainsFunc(family, isFluid) // "petrol", "screen wash"
	for _, w := range append(wordsOf(f.Fluid), family...) {
		if isFluid(w) || hasDigit(w) || ownFamily && (w == family[0] || w == family[len(family)-1]) {
			d.own = append(d.own, w)
		} else {
			d.helping = append(d.helping, w)
		}
	}
	if strings.HasPrefix(f.Family, "coolant") {
		d.own = append(d.own, coolantWords...)
	}
	return d
}

// settingDatum takes the words of what is set apart: the one that says what it
// is, "travel", makes a question one about a setting; "lever" may be a part.
func settingDatum(s *Setting) datum {
	d := datum{position: s.Position, setting: s, loosely: anySetting}
	tokens := read(strings.ReplaceAll(s.Characteristic, "-", " "))
	head := len(tokens) - 1
	for i := range tokens {
		if i > 0 && tokens[i].noise {
			head = i - 1
			break
		}
	}
	for i := range tokens {
		switch t := &tokens[i]; {
		case i == head:
			d.own = append(d.own, t.text)
		case t.side == "" && !t.noise:
			d.whole = append(d.whole, t.text)
			fallthrough
		default:
			d.helping = append(d.helping, t.text)
		}
	}
	d.own = append(d.own, saidFor[s.Characteristic]...)
	d.helping = append(d.helping, helpsWith[s.Characteristic]...)
	if slices.Contains(wordsOf(s.Subject), "sand") {
		d.helping = append(d.helping, "beach")
	}
	return d
}

// at gives a datum the words of its place. What a place on it is called by
// stands for the subject of a setting, when that ends its title: "lug nut
// torque" is that of the wheel nuts.
func (d *datum) at(c *Catalogue, called string) {
	d.place, d.names = wordsOf(called), c.placeNames.names[d.position]
	var subject []string
	if d.setting != nil && d.setting.Subject != "" {
		subject = wordsOf(d.setting.Subject)
		d.place = append(slices.Clip(d.place), subject...)
		d.names = append(slices.Clip(d.names), subject)
		for _, name := range c.placeNames.names[d.position] {
			d.names = append(d.names, append(slices.Clone(subject), name...))
		}
	}
	for _, p := range c.positions.of(d.position) {
		names := c.placeNames.names[p.ID]
		switch {
		case slices.ContainsFunc(names, d.speaksOfItself): // "oil pump" asks for no oil
		case len(subject) == 0:
			d.small = append(d.small, names...)
		case slices.ContainsFunc(names, func(name []string) bool { return endsWith(name, subject) }):
			d.lent = append(d.lent, names...)
		}
	}
}

// endsWith says whether a name ends with some words, sides and the word "set"
// aside.
func endsWith(name, words []string) bool {
	name = slices.DeleteFunc(withoutDirections(name), func(w string) bool { return w == "set" })
	return len(name) >= len(words) && slices.Equal(name[len(name)-len(words):], words)
}

func (d *datum) speaksOfItself(name []string) bool {
	return slices.ContainsFunc(name, func(w string) bool { return slices.Contains(d.own, w) || slices.Contains(d.loosely, w) })
}

func wordsOf(text string) []string {
	var out []string
	for _, t := range read(strings.ReplaceAll(text, "-", " ")) {
		out = append(out, t.text)
	}
	return out
}

// The levels at which a question means a datum, the best first: its place by a
// whole name, or none where what is set is said in full; by some words of one;
// or not at all. It is worse, by called, when
// the fluid was only called a fluid.
const (
	placeNamed = iota
	placeTold
	placeUnsaid
	called
	notMeant = called + placeUnsaid + 1
)

// level says how well a question means the datum: every word must be one of
// the datum or of its place, and at least one of the datum itself: "gearbox
// oil", "wheel nut torque". A side or an end that was said must be the place's.
func (d *datum) level(a asked) int {
	itself, loose := false, 0
	var rest, strange []string
	for i, w := range a.words {
		forms := append([]string{w}, a.joined[i]...)
		has := func(words []string) bool {
			return slices.ContainsFunc(forms, func(f string) bool { return slices.Contains(words, f) })
		}
		own, place := has(d.own), has(d.place)
		switch {
		case own || has(d.helping):
			itself = itself || own
			if place {
				rest = append(rest, w)
			}
		case place:
			rest = append(rest, w)
		case has(d.loosely):
			itself, loose = true, called
		case slices.Contains(besides, w):
		default:
			rest, strange = append(rest, w), append(strange, w)
		}
	}
	if !itself || a.against(d.position, EitherHand) || len(strange) > 0 && !slices.ContainsFunc(d.lent, is(rest)) && !slices.ContainsFunc(d.small, is(rest)) {
		return notMeant
	}
	switch {
	case len(rest) == 0 && !d.inFull(a):
		return loose + placeUnsaid
	case len(rest) == 0, slices.ContainsFunc(d.names, is(rest)), slices.ContainsFunc(d.lent, is(rest)):
		return loose + placeNamed
	}
	return loose + placeTold
}

// inFull says whether all of several words for what is set were said.
func (d *datum) inFull(a asked) bool {
	return len(d.whole) > 0 && !slices.ContainsFunc(d.whole, func(w string) bool { return !slices.Contains(a.words, w) })
}

// is says whether a name has just these words, directions aside.
func is(words []string) func(name []string) bool {
	return func(name []string) bool { return wordKey(withoutDirections(name)) == wordKey(words) }
}

func withoutDirections(words []string) []string {
	return slices.DeleteFunc(slices.Clone(words), func(w string) bool { return directions[w] != "" })
}

// directed says whether it speaks of every direction asked for.
func (d *datum) directed(a asked) bool {
	return !slices.ContainsFunc(a.directions, func(way string) bool {
		return !hasWord(d.position, way) && (d.setting == nil || !slices.Contains(wordsOf(d.setting.Characteristic+" "+d.setting.Subject), way))
	})
}
