package parts

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// A survey asks of every position, for every release with every set of options
// that matters there, whether exactly one row decides. Rows differ by release
// and options; by what else they say (serials, days, markets, lots) the
// vehicles of one outfit are divided at each bound that any row names, so that
// one vehicle of each division stands for all.
//
// Whether parts that are only "together with" others are on a vehicle is taken
// from the outfit as it leaves the works; what owners and repairs make of it
// later is answered with candidates, see site.contested.

// What a survey may cost, in rows judged of vehicles; a second judges some
// millions. Nobody who imports waits longer than a minute, and no catalogue of a
// works comes near: it would take rows that tell apart ten thousand kinds of
// vehicles at one place.
const (
	mostOptions    = 12          // options that may decide at one position: 4,096 sets
	mostJudged     = 2_000_000   // at one position of one release
	mostJudgedEver = 100_000_000 // in all
	asExpression   = 20          // rows that cost as much as an expression
	mostOutfits    = 1_000       // that are kept: some tens of kB each
)

// survey reports overlaps and gaps.
func (k *checker) survey() {
	s := surveyor{checker: k, outfits: map[string]*outfit{}, told: map[string]bool{}}
	t := &k.catalogue.technical
	positions := map[string]bool{}
	for _, id := range t.positions.keys {
		positions[id] = true
	}
	for _, groups := range []func(func(string)){groupsOf(&t.applications), groupsOf(&t.settings), groupsOf(&t.capacities)} {
		groups(func(position string) { positions[position] = true })
	}
	for _, position := range slices.Sorted(maps.Keys(positions)) {
		surveyRows(&s, spot{position, s.small(position)}, t.applications.of(position))
		surveyRows(&s, spot{position, false}, t.settings.of(position))
		surveyRows(&s, spot{position, false}, t.capacities.of(position))
	}
}

func groupsOf[R Record](r *Register[R]) func(func(string)) {
	return func(f func(string)) {
		for group := range r.groups {
			f(group)
		}
	}
}

type surveyor struct {
	*checker
	outfits map[string]*outfit // by release and options
	told    map[string]bool    // what was reported
	judged  int
}

// spot is a position, and whether one of its rows must hold for each vehicle.
type spot struct {
	position string
	complete bool
}

func (s *surveyor) small(position string) bool {
	p := s.catalogue.positions.Get(position)
	return p != nil && p.Within != ""
}

// surveyRows surveys the competing rows of one position.
func surveyRows[R row](s *surveyor, at spot, rows []R) {
	bySubject := map[string][]R{}
	for _, r := range rows {
		bySubject[r.subject()] = append(bySubject[r.subject()], r)
	}
	for _, subject := range slices.Sorted(maps.Keys(bySubject)) {
		for _, id := range slices.Sorted(maps.Keys(s.releases)) {
			surveyRelease(s, at, s.releases[id], bySubject[subject])
		}
	}
}

// surveyRelease asks every outfit of a release that has the position.
func surveyRelease[R row](s *surveyor, at spot, release *build.Release, rows []R) {
	conditions := make([]*Conditions, len(rows))
	for i, r := range rows {
		conditions[i] = r.conditions()
	}
	root, record := s.catalogue.assembly(at.position), rows[0].record()
	options := s.optionsThatMatter(release, root, conditions)
	if len(options) > mostOptions {
		s.once(record, "conditions.options", strings.Join(options, ", "), fmt.Sprintf("at most %d options that decide at one position", mostOptions))
		return
	}
	sets, d := optionSets(release, options), divide(conditions, release.Effective)
	if !s.affords(record, product(mostJudged, len(sets), d.count(mostJudged), weight(conditions))) {
		return
	}
	for _, set := range sets {
		if o := s.outfit(release, set); o != nil && o.has(root) {
			surveyOutfit(s, at, o, &d, rows)
		}
	}
}

// affords says whether rows may be judged as often as they ask for, and reports
// those that may not; when that is too much in all, once.
func (s *surveyor) affords(record string, cost int) bool {
	switch {
	case s.judged > mostJudgedEver:
		return false
	case cost >= mostJudged:
		s.once(record, "conditions", "rows that tell too many vehicles apart by their options, serials, days, markets and lots", "rows that tell fewer apart at one position")
		return false
	}
	s.judged += cost
	if s.judged > mostJudgedEver {
		s.add(record, "conditions", "a catalogue that tells too many vehicles apart", "one that tells fewer apart: what comes after was not looked through")
		return false
	}
	return true
}

// weight is what judging one vehicle by all rows costs.
func weight(rows []*Conditions) int {
	n := len(rows)
	for _, c := range rows {
		if c.AppliesWhen != "" {
			n += asExpression
		}
	}
	return n
}

// product multiplies counts, and stops at most: a silly import names more
// kinds of vehicles than there are numbers.
func product(most int, counts ...int) int {
	n := 1
	for _, c := range counts {
		if c > 0 && n >= most/c+1 {
			return most
		}
		n *= c
	}
	return min(n, most)
}

// surveyOutfit asks one vehicle of each division of an outfit.
func surveyOutfit[R row](s *surveyor, at spot, o *outfit, d *divisions, rows []R) {
	if !canAsk(s, o, rows) {
		return
	}
	d.each(o, func(on *subject) {
		candidates, others := decide(rows, on)
		switch {
		case len(candidates) > 1:
			first, second := candidates[0].row, candidates[1].row
			s.once(second.record(), "conditions", o.words()+d.words(on), fmt.Sprintf("no vehicle that %s holds for too", first.record()))
		case len(candidates) == 0 && at.complete:
			s.gap(at.position, o, others[0].row.record(), o.words()+d.words(on), gapWords(others, on))
		}
	})
}

// canAsk says whether the expressions of all rows can be asked of an outfit,
// and reports those that cannot; what is wrong with their text has been said.
func canAsk[R row](s *surveyor, o *outfit, rows []R) bool {
	can := true
	for _, r := range rows {
		c := r.conditions()
		if c.AppliesWhen == "" || len(c.Releases) > 0 && !slices.Contains(c.Releases, o.release.ID) {
			continue
		}
		if c.predicate == nil {
			can = false
		} else if _, err := c.predicate.Applies(o.makeup); err != nil {
			can = false
			s.once(r.record(), "conditions.applies_when", c.AppliesWhen, fmt.Sprintf("an expression that can be asked of %s: %v", o.words(), err))
		}
	}
	return can
}

// gap reports once for each position and release that nothing decides.
func (s *surveyor) gap(position string, o *outfit, record, got, why string) {
	if key := "gap " + position + " " + o.release.ID; !s.told[key] {
		s.told[key] = true
		s.add(record, "conditions", got, fmt.Sprintf("an application that holds for the %s there; %s", spoken(position), why))
	}
}

func gapWords[R row](others []verdict[R], on *subject) string {
	var why []string
	for _, o := range others[:min(len(others), 4)] {
		why = append(why, fmt.Sprintf("%s %s", o.row.record(), o.row.conditions().unmetWords(o.why, on)))
	}
	return strings.Join(why, "; ")
}

// once reports a fault of a row one time, whatever the vehicle.
func (s *surveyor) once(record, path, got, want string) {
	if key := record + " " + path + " " + want; !s.told[key] {
		s.told[key] = true
		s.add(record, path, got, want)
	}
}

// outfit is the standard vehicle of a release with a set of options.
type outfit struct {
	release *build.Release
	conf    build.Configuration
	makeup  vehicle.Makeup
	circumstances
}

// outfit gives it as it leaves the works; nil when it cannot be built.
func (s *surveyor) outfit(r *build.Release, options []string) *outfit {
	key := r.ID + "\x00" + strings.Join(options, "\x00")
	if o, ok := s.outfits[key]; ok {
		return o
	}
	rec := build.Record{Serial: "X000", Release: r.ID, Options: options, Built: r.Effective, Wheelbase: "short"}
	conf, err := build.Configure(rec, nil, s.releases, r.Effective)
	if len(s.outfits) >= mostOutfits {
		clear(s.outfits)
	}
	if err != nil {
		s.outfits[key] = nil
		return nil
	}
	o := &outfit{release: r, conf: conf, makeup: s.catalogue.MakeupOf(&conf)}
	o.circumstances = circumstances{catalogue: s.catalogue, on: farFuture, release: r.ID, fitted: conf.Fitted,
		known: map[routeKey]route{}, found: map[string]bool{}}
	s.outfits[key] = o
	return o
}

// farFuture is a day on which everything that was announced holds.
var farFuture = func() vehicle.Date {
	d, err := vehicle.NewDate(9999, 12, 31)
	if err != nil {
		panic(err)
	}
	return d
}()

func (o *outfit) has(position string) bool { return o.conf.At(position) != nil }

func (o *outfit) words() string {
	text := "release " + o.release.ID
	if len(o.conf.Options) > 0 {
		text += " with " + wording.List(o.conf.Options, "and")
	}
	return text
}
