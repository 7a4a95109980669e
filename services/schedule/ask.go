package schedule

import (
	"strconv"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// Ask says that the owner is to be asked what the odometer shows.
type Ask struct {
	Cycle  string // "READ.2026-05-01": the same until there is a new reading, or half a year is over
	Reason vehicle.Reason
}

// askAgain is how many days after the last reading a request that nobody
// answered becomes another one. Whoever sends them sees to it that two do not
// follow each other closely.
const askAgain = 180

// Ask decides whether an answer is worth the owner's trouble: for the item
// whose date it may change first. Nobody is asked while the vehicle is laid up.
func (s *Schedule) Ask() (Ask, bool) {
	if s.delivered == noDay || s.delivered > s.on {
		return Ask{}, false
	}
	if _, laidUp := coveredBy(s.lay, s.on); laidUp {
		return Ask{}, false
	}
	last := s.travel.points[len(s.travel.points)-1]
	usual := forecast.UsualAsking()
	var about *Status
	chance := 0.0
	for i := range s.Statuses {
		st := &s.Statuses[i]
		if !st.Open() || st.limit == 0 || s.plan.Item(int(st.Item)).OwnerCheck {
			continue
		}
		q := forecast.Question{
			Today: int32(s.on), TimeDue: int32(orEnd(st.timeDue)), Way: float64(st.dueAt - last.Distance),
			Notice: int32(s.plan.Item(int(st.Item)).notice()), LastReading: int32(last.day), LastAsked: int32(s.delivered) - 10*usual.Every,
		}
		worth, c := usual.WorthAsking(q, &s.travel.usage, &s.travel.cal)
		if worth && (about == nil || st.due < about.due) {
			about, chance = st, c
		}
	}
	if about == nil {
		return Ask{}, false
	}
	return Ask{s.askCycle(last.day), s.askReason(about, last.day, chance)}, true
}

// askCycle names the occasion by the day from which it is one.
func (s *Schedule) askCycle(last day) string {
	return "READ." + (last + (s.on-last)/askAgain*askAgain).date().String()
}

func (s *Schedule) askReason(st *Status, last day, chance float64) vehicle.Reason {
	early, late, _ := s.DistanceRange(st)
	item := s.plan.Item(int(st.Item))
	r := vehicle.Reason{Rule: "READING_WORTH_ASKING", Facts: []vehicle.Fact{
		fact("item", item.ID), fact("title", item.Title), fact("chance_percent", strconv.Itoa(int(100*chance+0.5))),
		fact("early", early.String()), fact("last_reading", last.date().String()),
	}}
	if early.Before(s.On) {
		early = s.On
	}
	days := "from " + early.Long() + " on, or not for years"
	if !late.IsZero() {
		r.Facts = append(r.Facts, fact("late", late.String()))
		days = "between " + early.Long() + " and " + late.Long()
	}
	r.Sentence = item.Title + " may be due by distance any day " + days + "; a new reading tells."
	return r
}
