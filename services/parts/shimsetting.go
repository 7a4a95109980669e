package parts

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// ShimSetting is what is set with shims at a position of a vehicle.
type ShimSetting struct {
	*Setting
	Reason    vehicle.Reason // why this row
	Component string         // the position of the component that the work is done on
	Renew     []Line         // what must be renewed with the work, as it is to be had today
	Cautions  []string       // of the setting, the position, its assembly and what is renewed
}

// ShimQuestion asks for the setting at a position. Characteristic and Subject
// are empty where the position has one setting with shims only.
type ShimQuestion struct{ Position, Characteristic, Subject string }

// itself is the subject of a setting that has none.
const itself = "itself"

// ShimSetting finds the setting with shims that a question means. It refuses
// with NO_SHIM_SETTING where there is none, naming the positions of the vehicle
// that have one; with a fault of "characteristic" or "subject" where there are
// several; and with SHIM_SETTING_UNDECIDED where the records do not tell which
// row holds.
func (r *Ready) ShimSetting(q ShimQuestion) (*ShimSetting, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	s := r.site(q.Position)
	if s == nil {
		return nil, fault.New(fault.NotFound, "POSITION_NOT_ON_VEHICLE", "%s has no %s. %s", r.Serial(), spoken(q.Position), r.shimPositions())
	}
	var settled, others []*Setting
	var open [][]verdict[*Setting]
	for _, candidates := range s.shimSettings(r.Catalogue) {
		row := candidates[0].row
		switch {
		case !q.means(row):
			others = append(others, row)
		case len(candidates) > 1:
			open = append(open, candidates)
		default:
			settled = append(settled, row)
		}
	}
	switch {
	case len(settled)+len(open) > 1:
		for _, candidates := range open {
			settled = append(settled, candidates[0].row)
		}
		return nil, q.severalFault(settled)
	case len(open) == 1:
		return nil, s.undecidedFault(open[0])
	case len(settled) == 1:
		return r.shimSetting(s, settled[0]), nil
	case len(others) > 0:
		return nil, q.otherFault(others)
	}
	return nil, fault.New(fault.NotFound, "NO_SHIM_SETTING", "Nothing is set with shims at the %s of %s. %s", spoken(q.Position), r.Serial(), r.shimPositions())
}

// shimSettings gives the rows of a position that hold or may hold, by what
// they set, where one of them is set with shims. The one that is comes first.
func (s *site) shimSettings(c *Catalogue) [][]verdict[*Setting] {
	var all [][]verdict[*Setting]
	bySubject := map[string][]*Setting{}
	var order []string
	for _, row := range c.settings.of(s.position) {
		key := row.subject()
		if bySubject[key] == nil {
			order = append(order, key)
		}
		bySubject[key] = append(bySubject[key], row)
	}
	for _, key := range order {
		candidates, _ := decide(bySubject[key], s.subject)
		i := slices.IndexFunc(candidates, func(v verdict[*Setting]) bool { return v.row.Shims != nil })
		if i >= 0 {
			candidates[0], candidates[i] = candidates[i], candidates[0]
			all = append(all, candidates)
		}
	}
	return all
}

func (q *ShimQuestion) means(s *Setting) bool {
	subject := q.Subject == "" || q.Subject == s.Subject || q.Subject == itself && s.Subject == ""
	return subject && (q.Characteristic == "" || q.Characteristic == s.Characteristic)
}

// shimPositions says where the vehicle is set with shims.
func (r *Ready) shimPositions() string {
	var names []string
	for _, s := range r.sites {
		if len(s.shimSettings(r.Catalogue)) > 0 {
			names = append(names, s.position)
		}
	}
	if len(names) == 0 {
		return "The catalogue has no setting with shims for this vehicle."
	}
	return fmt.Sprintf("With shims are set: %s.", wording.List(names, "and"))
}

// severalFault asks which of several settings is meant.
func (q *ShimQuestion) severalFault(rows []*Setting) error {
	var characteristics, subjects []string
	for _, row := range rows {
		characteristics = append(characteristics, row.Characteristic)
		subjects = append(subjects, row.Subject)
	}
	if characteristics = sortedUnique(characteristics); len(characteristics) > 1 {
		return fault.InvalidField("characteristic", q.Characteristic, "which is set: "+wording.List(characteristics, "or"))
	}
	for i, text := range subjects {
		if text == "" {
			subjects[i] = itself + " (the " + spoken(q.Position) + ")"
		}
	}
	return fault.InvalidField("subject", q.Subject, "of what the "+spoken(characteristics[0])+" is set: "+wording.List(sortedUnique(subjects), "or"))
}

// otherFault says that something else is set with shims there.
func (q *ShimQuestion) otherFault(rows []*Setting) error {
	var what []string
	for _, row := range rows {
		what = append(what, row.what())
	}
	field, got := "characteristic", q.Characteristic
	if slices.ContainsFunc(rows, func(s *Setting) bool { return s.Characteristic == q.Characteristic }) || got == "" {
		field, got = "subject", q.Subject
	}
	return fault.InvalidField(field, got, "what is set with shims at the "+spoken(q.Position)+": "+wording.List(sortedUnique(what), "or"))
}

// what is the characteristic and of what: "end-float", "torque of housing bolts".
func (s *Setting) what() string {
	if s.Subject == "" {
		return s.Characteristic
	}
	return s.Characteristic + " of " + s.Subject
}

// undecidedFault says between which rows nothing on record decides, and what
// would tell.
func (s *site) undecidedFault(candidates []verdict[*Setting]) error {
	var rows, asks []string
	for _, c := range candidates {
		holds := c.row.Conditions.words()
		if holds == "" {
			holds = "every vehicle that has it"
		}
		rows = append(rows, fmt.Sprintf("%s (%s)", c.row.record(), holds))
		if c.is == unknown {
			if ask := questionFor(c.why, s.place(), []row{c.row}); ask != "" {
				asks = append(asks, ask)
			}
		}
	}
	slices.Sort(rows)
	sentence := fmt.Sprintf("The records do not tell which setting holds at the %s: %s.", spoken(s.position), wording.List(rows, "or"))
	for _, ask := range sortedUnique(asks) {
		sentence += " " + ask
	}
	return fault.New(fault.FailedPrecondition, "SHIM_SETTING_UNDECIDED", "%s", sentence)
}

// shimSetting adds to a setting what goes with the work.
func (r *Ready) shimSetting(s *site, row *Setting) *ShimSetting {
	out := &ShimSetting{
		Setting: row, Component: s.place(),
		Reason: s.rowReason(row, fmt.Sprintf("%s of the %s", spoken(row.Characteristic), spoken(s.position))),
	}
	out.Renew = s.renewedWithShims(row.Shims)
	caution := func(text string) {
		if text = strings.TrimSpace(text); text != "" && !slices.Contains(out.Cautions, wording.Ended(text)) {
			out.Cautions = append(out.Cautions, wording.Ended(text))
		}
	}
	caution(row.Caution)
	for at := s; at != nil; at = at.on {
		if p := r.Catalogue.positions.Get(at.position); p != nil {
			caution(p.Caution)
		}
	}
	for _, l := range out.Renew {
		if p := r.Catalogue.Part(l.Part); p != nil {
			caution(p.Caution)
		}
	}
	return out
}

// renewedWithShims is what must be renewed with the part that stands there and
// with the shims, once: the joint is opened for both.
func (s *site) renewedWithShims(design *ShimDesign) []Line {
	var all []Line
	add := func(lines []Line) {
		for _, l := range lines {
			i := slices.IndexFunc(all, func(have Line) bool { return have.Part == l.Part })
			if i < 0 {
				all = append(all, Line{l.Part, l.Count()})
				continue
			}
			all[i].Quantity = max(all[i].Quantity, l.Count())
		}
	}
	for _, b := range s.bases() {
		w := b.main()
		if part := w.today(); part != nil {
			add(w.renewWith(&Choice{Order: part, Quantity: w.count, AlsoOrder: w.route.lines[1:]}))
		}
	}
	for _, size := range design.Sizes {
		if part := s.catalogue.Part(size.Part); part != nil {
			shim := s.base(size.Part, nil)
			w := want{base: shim, count: 1}
			add(w.renewWith(&Choice{Order: part, Quantity: 1}))
		}
	}
	return withoutHeld(s.catalogue, all)
}

// withoutHeld leaves out the lines that a kit among them holds.
func withoutHeld(c *Catalogue, lines []Line) []Line {
	return slices.DeleteFunc(slices.Clone(lines), func(l Line) bool {
		return slices.ContainsFunc(lines, func(other Line) bool {
			kit := c.Part(other.Part)
			return other.Part != l.Part && kit != nil && slices.ContainsFunc(kit.Contents, func(in Line) bool { return in.Part == l.Part })
		})
	})
}
