package schedule

import (
	"strconv"
	"strings"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// Ask says that the owner is to be asked what the odometer shows.
type Ask struct {
	Cycle  string // "READ.2026-05-01": the same until there is a new reading
	Reason vehicle.Reason
}

// askAgain is how many days after a reading, or after a request that nobody
// answered, another request may go out.
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
		fact("item", item.ID), fact("chance_percent", strconv.Itoa(int(100*chance+0.5))),
		fact("early", early.String()), fact("last_reading", last.date().String()),
	}}
	until := "or much later"
	if !late.IsZero() {
		r.Facts = append(r.Facts, fact("late", late.String()))
		until = "and " + late.Long()
	}
	if early.Before(s.On) {
		early = s.On
	}
	what := strings.ToLower(item.Title[:1]) + item.Title[1:]
	r.Sentence = "By distance, " + what + " may be due any day between " + early.Long() + " " + until + "; a new reading tells."
	return r
}
