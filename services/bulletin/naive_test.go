package bulletin_test

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/bulletin"
	"halfshaft/services/vehicle"
)

// This is the second, deliberately plain implementation of a set: it goes
// through the records of one vehicle for each question, and shares nothing with
// the package but its types.

// span is the time of one unit at a position.
type span struct {
	position, part, serial, lot string
	from, until                 vehicle.Date
	owners                      bool   // the owner's own part
	replacedBy                  string // the part with which a campaign replaced it
	goesOn                      bool
}

// naive is what the plain implementation knows of a vehicle.
type naive struct {
	rec      build.Record
	releases []string // today
	options  []string
	spans    []span
}

func fold(s string) string {
	return strings.ToUpper(strings.NewReplacer("-", "", " ", "").Replace(s))
}

// replay tells the life of a vehicle, change by change.
func (w *world) replay(rec build.Record) naive {
	n := naive{rec: rec, options: slices.Clone(rec.Options)}
	here := map[string]*span{}
	follows := map[string]string{}
	for k, p := range worldPositions[:4] {
		here[p] = &span{position: p, part: worldParts[k], from: rec.Built}
	}
	for _, c := range rec.Components {
		part := c.Part
		if part == "" && here[c.Position] != nil {
			part = here[c.Position].part
		}
		here[c.Position] = &span{position: c.Position, part: part, serial: c.Serial, lot: c.Lot, from: rec.Built}
	}
	changes := slices.Clone(w.changes[rec.Serial])
	slices.SortStableFunc(changes, func(a, b build.Change) int {
		late := func(c build.Change) int {
			if c.Source == build.SourceCampaign {
				return 1
			}
			return 0
		}
		return cmp.Or(a.Date.Compare(b.Date), cmp.Compare(late(a), late(b)), a.Created.Compare(b.Created))
	})
	for _, c := range changes {
		if c.Date.After(w.on) {
			continue
		}
		p := c.Component.Position
		switch c.Kind {
		case build.Fit:
			if k := slices.Index(worldPositions[:4], p); k >= 0 && c.Component.Part == "" {
				c.Component.Part = worldParts[k] // who writes none down means the one that is called for
			}
			if old := here[p]; old != nil {
				old.until = c.Date
				if c.Source == build.SourceCampaign {
					old.replacedBy = c.Component.Part
				}
				n.spans = append(n.spans, *old)
			}
			here[p] = &span{position: p, part: c.Component.Part, serial: c.Component.Serial, lot: c.Component.Lot, from: c.Date, owners: c.Source == build.SourceOwner}
		case build.Remove:
			if old := here[p]; old != nil {
				old.until = c.Date
				n.spans = append(n.spans, *old)
			}
			delete(here, p)
		case build.Overhaul:
			if old := here[p]; old != nil && c.Component.Lot != "" {
				before := *old
				before.until, before.goesOn = c.Date, true
				n.spans = append(n.spans, before)
				old.lot, old.from = c.Component.Lot, c.Date
			}
		case build.Upgrade:
			p, standard := c.Positions[0], ""
			follows[p] = c.Release
			if k := slices.Index(worldPositions[:4], p); k >= 0 {
				standard = worldParts[k]
			}
			old := here[p]
			if standard != "" && old != nil && !old.owners && old.part == standard {
				continue // the same unit stays
			}
			if old != nil {
				old.until = c.Date
				if c.Source == build.SourceCampaign {
					old.replacedBy = standard
				}
				n.spans = append(n.spans, *old)
			}
			delete(here, p)
			if standard != "" {
				here[p] = &span{position: p, part: standard, from: c.Date, owners: c.Source == build.SourceOwner}
			}
		case build.OptionAdded:
			if !slices.Contains(n.options, c.Option) {
				n.options = append(n.options, c.Option)
			}
		case build.OptionRemoved:
			n.options = slices.DeleteFunc(n.options, func(o string) bool { return o == c.Option })
		}
	}
	for p, s := range here {
		n.spans = append(n.spans, *s)
		release := rec.Release
		if follows[p] != "" {
			release = follows[p]
		}
		n.releases = append(n.releases, release)
	}
	if len(n.releases) == 0 {
		n.releases = []string{rec.Release}
	}
	return n
}

// naives replays every vehicle, and lends a unit what other records say of its
// serial, where they agree.
func (w *world) naives() []naive {
	var all []naive
	lots, parts := map[string][]string{}, map[string][]string{}
	for _, rec := range w.records {
		n := w.replay(rec)
		for _, s := range n.spans {
			if s.serial == "" {
				continue
			}
			if s.lot != "" {
				lots[fold(s.serial)] = append(lots[fold(s.serial)], fold(s.lot))
			}
			if s.part != "" {
				parts[fold(s.serial)] = append(parts[fold(s.serial)], fold(s.part))
			}
		}
		all = append(all, n)
	}
	agreed := func(texts []string) string {
		if len(slices.Compact(slices.Sorted(slices.Values(texts)))) == 1 {
			return texts[0]
		}
		return ""
	}
	for i := range all {
		for k := range all[i].spans {
			s := &all[i].spans[k]
			s.part, s.lot, s.serial, s.replacedBy = fold(s.part), fold(s.lot), fold(s.serial), fold(s.replacedBy)
			if s.serial != "" && s.lot == "" {
				s.lot = agreed(lots[s.serial])
			}
			if s.serial != "" && s.part == "" {
				s.part = agreed(parts[s.serial])
			}
		}
	}
	return all
}

// holds is "yes", "no" or "?". flip is a single condition that is taken to be
// otherwise; nil for none.
func (w *world) holds(n *naive, c, flip *bulletin.Condition) string {
	switch {
	case c.All != nil:
		answers := ""
		for i := range c.All {
			answers += w.holds(n, &c.All[i], flip)
		}
		switch {
		case strings.Contains(answers, "no"):
			return "no"
		case strings.Contains(answers, "?"):
			return "?"
		}
		return "yes"
	case c.Any != nil:
		answers := ""
		for i := range c.Any {
			answers += w.holds(n, &c.Any[i], flip)
		}
		switch {
		case strings.Contains(answers, "yes"):
			return "yes"
		case strings.Contains(answers, "?"):
			return "?"
		}
		return "no"
	case c.Not != nil:
		return otherwise(w.holds(n, c.Not, flip))
	}
	answer := w.single1(n, c)
	if c == flip {
		return otherwise(answer)
	}
	return answer
}

func otherwise(answer string) string {
	return map[string]string{"yes": "no", "no": "yes", "?": "?"}[answer]
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func (w *world) single1(n *naive, c *bulletin.Condition) string {
	inside := func(d vehicle.Date, r *bulletin.DateRange) string {
		return yesNo((r.Start.IsZero() || r.Start.Ordinal() <= d.Ordinal()) && (r.End.IsZero() || d.Ordinal() <= r.End.Ordinal()))
	}
	switch {
	case c.Release != nil && c.Release.AsBuilt:
		return yesNo(slices.Contains(c.Release.Releases, n.rec.Release))
	case c.Release != nil:
		for _, r := range n.releases {
			if slices.Contains(c.Release.Releases, r) {
				return "yes"
			}
		}
		return "no"
	case c.Option != nil && c.Option.AsBuilt:
		return yesNo(slices.Contains(n.rec.Options, c.Option.Option))
	case c.Option != nil:
		return yesNo(slices.Contains(n.options, c.Option.Option))
	case c.Serials != nil:
		number := func(s vehicle.Serial) int { x, _ := strconv.Atoi(string(s[2 : len(s)-1])); return x }
		me := number(n.rec.Serial)
		for _, e := range c.Serials.Except {
			if number(e) == me {
				return "no"
			}
		}
		return yesNo((c.Serials.First == "" || number(c.Serials.First) <= me) && (c.Serials.Last == "" || me <= number(c.Serials.Last)))
	case c.Built != nil && n.rec.Built.IsZero():
		return "?"
	case c.Built != nil:
		return inside(n.rec.Built, c.Built)
	case c.Delivered != nil && (n.rec.Delivered.IsZero() || n.rec.Delivered.After(w.on)):
		return "no"
	case c.Delivered != nil:
		return inside(n.rec.Delivered, c.Delivered)
	case c.Use != nil:
		uses := w.uses[n.rec.Serial]
		if len(uses) == 0 {
			return "?"
		}
		for _, u := range uses {
			if u.Kind == c.Use.Kinds[0] && u.Start.Ordinal() <= w.on.Ordinal() && (c.Use.Ever || u.End.IsZero() || u.End.Ordinal() >= w.on.Ordinal()) {
				return "yes"
			}
		}
		return "no"
	case c.Markets != nil && n.rec.Market == "":
		return "?"
	case c.Markets != nil:
		return yesNo(slices.Contains(c.Markets, n.rec.Market))
	case c.Wheelbases != nil:
		return yesNo(slices.Contains(c.Wheelbases, n.rec.Wheelbase))
	case c.Expression == expressions[0]:
		return yesNo(n.rec.Release == "R2")
	case c.Expression == expressions[1]:
		return yesNo(slices.Contains(n.options, "winch"))
	case c.Expression == expressions[2]:
		return n.plainSwivel()
	}
	return n.fitted(c.Fitted)
}

// plainSwivel: nothing that stands at the swivel housing has traits on record,
// but for a part that a release has elsewhere and describes.
func (n *naive) plainSwivel() string {
	for _, s := range n.spans {
		if s.position == "swivel-housing-left" && s.until.IsZero() {
			return yesNo(slices.Contains([]string{"AP1101", "AP2041", "AP2050", "AP3001"}, fold(s.part)))
		}
	}
	return "?"
}

func (n *naive) fitted(u *bulletin.FittedUnit) string {
	best := "no"
	for _, s := range n.spans {
		if !u.Ever && !s.until.IsZero() && s.replacedBy != "AP3002" {
			continue
		}
		switch unitAnswer(u, s) {
		case "yes":
			return "yes"
		case "?":
			best = "?"
		}
	}
	return best
}

func unitAnswer(u *bulletin.FittedUnit, s span) string {
	if u.Position != "" && u.Position != s.position {
		return "no"
	}
	answer := "yes"
	for _, q := range []struct {
		wanted []string
		got    string
	}{{u.Parts, s.part}, {u.Lots, s.lot}, {u.Serials, s.serial}} {
		if len(q.wanted) == 0 {
			continue
		}
		if q.got == "" {
			if answer == "yes" {
				answer = "?"
			}
			continue
		}
		if !slices.ContainsFunc(q.wanted, func(x string) bool { return fold(x) == q.got }) {
			return "no"
		}
	}
	return answer
}

// membership says whether a vehicle belongs on the list: "yes", "?" or "no".
func (w *world) membership(n *naive, s *bulletin.Set) string {
	switch {
	case slices.Contains(s.Except, n.rec.Serial):
		return "no"
	case slices.Contains(s.Serials, n.rec.Serial):
		return "yes"
	}
	return w.holds(n, s.When, nil)
}

// flippable says whether the set would have the vehicle if one single condition
// were otherwise, each tried in turn; and whether for one of them others stand
// beside it that must hold too.
func (w *world) flippable(n *naive, s *bulletin.Set) (any, beside bool) {
	var walk func(c *bulletin.Condition, sign, others bool)
	walk = func(c *bulletin.Condition, sign, others bool) {
		for i := range c.All {
			walk(&c.All[i], sign, others || sign && len(c.All) > 1)
		}
		for i := range c.Any {
			walk(&c.Any[i], sign, others || !sign && len(c.Any) > 1)
		}
		switch {
		case c.Not != nil:
			walk(c.Not, !sign, others)
		case c.All == nil && c.Any == nil && w.holds(n, s.When, c) == "yes":
			any, beside = true, beside || others
		}
	}
	walk(s.When, true, false)
	return any, beside
}
