package reminderwire

import (
	"strings"
	"time"

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
	v.Estimated = r.distance("pace.estimated_distance", pace.GetEstimatedDistance())
	v.LastReading = r.date("pace.reading_date", pace.GetReadingDate())
	for _, status := range s.GetItems() {
		v.Items = append(v.Items, r.item(status))
	}
	if ask := s.GetReadingRequest(); ask != nil {
		v.Items = append(v.Items, reminder.Item{
			ID: "READ", Cycle: ask.GetCycle(), Title: "Report what the odometer shows", Reading: true,
			ActBy: r.date("reading_request.ask_date", ask.GetAskDate()), Sentence: ask.GetReason().GetSentence(),
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
	}
	if s.GetState() != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
		i.ActBy = r.date("items.act_by_date", s.GetActByDate())
	}
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
		Person: strings.TrimPrefix(t.GetPerson(), "people/"), Notices: t.GetNotices(),
		Start: r.date("start_date", t.GetStartDate()), End: r.date("end_date", t.GetEndDate()),
	}
	return tie, r.err
}

// Recipient reads a person. zone finds a time zone by its name; a name it does
// not know leaves the person on UTC, with the error returned beside them.
func Recipient(p *ownerv1.Person, zone func(string) (*time.Location, error)) (reminder.Recipient, error) {
	r := reminder.Recipient{
		Person: strings.TrimPrefix(p.GetName(), "people/"), Name: strings.Join(strings.Fields(p.GetFullName()), " "), Address: p.GetEmail(),
		Language: p.GetLanguage(), Unit: vehicle.Miles, Zone: time.UTC,
		Hours: reminder.Hours{From: int(p.GetContactFromHour()), Until: int(p.GetContactUntilHour())},
	}
	if p.GetDistanceUnit() == string(vehicle.Kilometres) {
		r.Unit = vehicle.Kilometres
	}
	if p.GetTimeZone() == "" {
		return r, nil
	}
	found, err := zone(p.GetTimeZone())
	if err != nil {
		return r, fault.InvalidField("time_zone", p.GetTimeZone(), "an IANA time zone")
	}
	r.Zone = found
	return r, nil
}
