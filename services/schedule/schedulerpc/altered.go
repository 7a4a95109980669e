package schedulerpc

import (
	"slices"

	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// alteration is a change of the vehicle since which its speedometer shows
// otherwise.
type alteration struct {
	date   vehicle.Date
	change string // resource name
}

// alterationsOf finds them in a life. What the works changed by the day of the
// delivery is how the vehicle was handed over; tyres of the size and pattern
// that were there, now measured, are no other tyres.
func alterationsOf(life *build.Timeline) []alteration {
	var all []alteration
	for i := 1; i < len(life.Segments); i++ {
		was, is := &life.Segments[i-1], &life.Segments[i]
		same := !is.NewDial && is.Dial == was.Dial && is.Drive == was.Drive && is.Tyre.Size == was.Tyre.Size && is.Tyre.Pattern == was.Tyre.Pattern
		if !same && is.From.After(life.Segments[0].From) {
			all = append(all, alteration{is.From, is.Change})
		}
	}
	return all
}

// recordedNear is how many days before or after an alteration an event tells of
// the same thing.
const recordedNear = 14

// eventsOf gives the events of a vehicle: those recorded, and for each
// alteration of which none was recorded the change of the road speed that it
// is. It changes neither list.
func eventsOf(altered []alteration, recorded []schedule.Event) []schedule.Event {
	all := slices.Clip(recorded)
	for _, a := range altered {
		told := slices.ContainsFunc(recorded, func(e schedule.Event) bool {
			days := e.Date.DaysUntil(a.date)
			return e.Kind == schedule.RoadSpeedChange && max(days, -days) <= recordedNear
		})
		if !told {
			all = append(all, schedule.Event{Kind: schedule.RoadSpeedChange, Date: a.date, Record: a.change, Mark: -1})
		}
	}
	return all
}
