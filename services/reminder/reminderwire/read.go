package reminderwire

import (
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Vehicle reads a schedule as far as reminding needs it. Items with nothing to
// do keep a zero ActBy.
func Vehicle(s *schedulev1.Schedule) (reminder.Vehicle, error) {
	serial, _, err := resname.Serial("name", "vehicles/{serial}/schedule", s.GetName())
	if err != nil {
		return reminder.Vehicle{}, err
	}
	pace := s.GetPace()
	v := reminder.Vehicle{Serial: serial, Sample: s.GetSample(), Unit: vehicle.Unit(pace.GetUnit())}
	r := reader{}
	v.LayUpFrom = r.date("lay_up.start_date", s.GetLayUp().GetStartDate())
	v.LayUpTo = r.date("lay_up.end_date", s.GetLayUp().GetEndDate())
	v.Estimated = r.distance("pace.estimated_distance", pace.GetEstimatedDistance())
	v.LastReading = r.date("pace.reading_date", pace.GetReadingDate())
	for _, status := range s.GetItems() {
		v.Items = append(v.Items, r.item(status))
	}
	if ask := s.GetReadingRequest(); ask != nil {
		v.Items = append(v.Items, reminder.Item{
			ID: "READ", Cycle: ask.GetCycle(), Title: "Report what the odometer shows", Reading: true,
			ActBy: r.date("reading_request.ask_date", ask.GetAskDate()), Sentence: ask.GetReason().GetSentence(),
			Reasons: reasons([]*vehiclev1.Reason{ask.GetReason()}),
		})
	}
	return v, r.err
}

// reader keeps the first error, so that a long message reads in one go.
type reader struct{ err error }

func (r *reader) item(s *schedulev1.ItemStatus) reminder.Item {
	p := s.GetItem()
	i := reminder.Item{
		ID: s.GetItemId(), Cycle: s.GetCycle(), Title: s.GetTitle(),
		NotBefore:  r.date("items.not_before_date", s.GetNotBeforeDate()),
		NoticeDays: int(p.GetNoticeDays()), OwnerCheck: p.GetOwnerCheck(),
		LastDone:    r.date("items.last_done_date", s.GetLastDoneDate()),
		DrivenSince: r.distance("items.distance_since", s.GetDistanceSince()),
		DueDistance: r.distance("items.due_distance", s.GetDueDistance()),
		Sentence:    s.GetSentence(), Why: p.GetWhy(), Caution: p.GetCaution(), Tools: p.GetTools(),
		Reasons: reasons(s.GetReasons()),
	}
	i.Class = class(p.GetItemClass(), s.GetBeddingIn() || said(i.Reasons, "STARTED_BY_EVENT"))
	if s.GetState() != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
		i.ActBy = r.date("items.act_by_date", s.GetActByDate())
	}
	i.MovedTo = r.movedTo(i)
	i.Began = began(i)
	if f := p.GetFluid(); f != nil {
		quantity, err := vehiclewire.Quantity(f.GetQuantity())
		r.keep("items.item.fluid.quantity", err)
		i.Fluid = &reminder.Fluid{Name: f.GetFluid(), Quantity: quantity, NeverMix: f.GetNeverMix()}
	}
	for _, n := range p.GetParts() {
		i.Parts = append(i.Parts, reminder.PartNeed{
			Position: n.GetPosition(), Quantity: int(n.GetQuantity()), IfNeeded: n.GetIfNeeded(),
		})
	}
	for _, m := range p.GetMeasured() {
		i.Measured = append(i.Measured, reminder.Measure{
			Characteristic: m.GetCharacteristic(), Unit: m.GetUnit(), Lower: m.GetLower(), Upper: m.GetUpper(),
			Action: m.GetAction(), Method: m.GetMethod(),
		})
	}
	return i
}

// reasons reads the steps of an explanation.
func reasons(from []*vehiclev1.Reason) []vehicle.Reason {
	var out []vehicle.Reason
	for _, p := range from {
		if p == nil {
			continue
		}
		reason := vehicle.Reason{Rule: p.GetRule(), Record: p.GetRecord(), Sentence: p.GetSentence()}
		for _, f := range p.GetFacts() {
			reason.Facts = append(reason.Facts, vehicle.Fact{Name: f.GetName(), Value: f.GetValue()})
		}
		out = append(out, reason)
	}
	return out
}

// said reports whether a rule is among the steps.
func said(reasons []vehicle.Reason, rule string) bool {
	return slices.ContainsFunc(reasons, func(r vehicle.Reason) bool { return r.Rule == rule })
}

// class gives how insistently an item is reminded of. Where the programme does
// not say, what settles is what was just fitted or disturbed.
func class(p schedulev1.ItemClass, settles bool) reminder.Class {
	switch p {
	case schedulev1.ItemClass_ITEM_CLASS_ROUTINE:
		return reminder.Routine
	case schedulev1.ItemClass_ITEM_CLASS_SAFETY:
		return reminder.Vital
	case schedulev1.ItemClass_ITEM_CLASS_SETTLING:
		return reminder.Settling
	case schedulev1.ItemClass_ITEM_CLASS_SEASONAL:
		return reminder.Seasonal
	}
	if settles {
		return reminder.Settling
	}
	return reminder.Routine
}

// movedTo gives the day to which a lay-up sent an item, where that is the one
// on which the vehicle is brought back.
func (r *reader) movedTo(i reminder.Item) vehicle.Date {
	for _, reason := range i.Reasons {
		if reason.Rule != "LAY_UP" || i.ActBy.IsZero() {
			continue
		}
		from, err := vehicle.ParseDate(reason.Fact("lay_up_from"))
		r.keep("items.reasons", err)
		if err == nil && i.ActBy.After(from) {
			return i.ActBy
		}
	}
	return vehicle.Date{}
}

// began gives the day the round began: the day in the cycle's name
// ("E01.2026-05-01"), else the day it was last done.
func began(i reminder.Item) vehicle.Date {
	if at := strings.LastIndexByte(i.Cycle, '.'); at >= 0 {
		if day, err := vehicle.ParseDate(i.Cycle[at+1:]); err == nil {
			return day
		}
	}
	return i.LastDone
}

func (r *reader) date(field string, d *date.Date) vehicle.Date {
	day, err := vehiclewire.Date(d)
	r.keep(field, err)
	return day
}

func (r *reader) distance(field string, d *vehiclev1.Distance) vehicle.Distance {
	if d == nil {
		return 0
	}
	distance, err := vehiclewire.Distance(d)
	r.keep(field, err)
	return distance
}

func (r *reader) keep(field string, err error) {
	if r.err == nil && err != nil {
		r.err = fault.Under(field, err)
	}
}

// Tie reads a tie.
func Tie(t *ownerv1.Tie) (reminder.Tie, error) {
	r := reader{}
	tie := reminder.Tie{
		Person: strings.TrimPrefix(t.GetPerson(), "people/"), Notices: t.GetNotices(), Role: roles[t.GetRole()],
		Start: r.date("start_date", t.GetStartDate()), End: r.date("end_date", t.GetEndDate()),
	}
	return tie, r.err
}
