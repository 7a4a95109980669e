package forecast

// Question is what is to be known about an item before its owner is asked for a
// reading. Days are as in Point.
type Question struct {
	Today       int32
	TimeDue     int32   // the day of the time limb; Never for an item without one
	Way         float64 // millimetres from the last point to the distance limb; nought or less when it is passed
	Notice      int32   // days before the due day at which the notice goes out
	LastReading int32   // day of the last point; the delivery when there is none
	LastAsked   int32   // day of the last request, well in the past for none
}

// Asking is how often and how readily owners are asked. The zero value never
// asks.
type Asking struct {
	Every  int32   // least number of days between two requests, and after a reading
	Chance float64 // of the distance limb coming first, from which it is worth acting on
	Ahead  int32   // days before its notice would go out from which a request is in time
	Apart  int32   // days by which the answer must be able to move the notice
}

// UsualAsking asks at most once a quarter, when one vehicle in five would be
// due by distance first, four weeks before the notice, about a date that may
// move by three weeks or more.
func UsualAsking() Asking { return Asking{Every: 91, Chance: 0.2, Ahead: 28, Apart: 21} }

// WorthAsking says whether a reading should be asked for, and the chance that
// the distance limb comes before the time limb, as it was at the last point. A
// request is worth the owner's trouble when all of these hold:
//
//   - the last request and the last reading are long enough ago;
//   - the distance limb may come first with a chance worth acting on;
//   - the notice is near: its date, at the early end of the range, is no further
//     off than a request needs;
//   - the answer can change something: without it the day is uncertain by more
//     than the notice can bear.
func (a Asking) WorthAsking(q Question, u *Usage, cal *Calendar) (ask bool, chance float64) {
	chance = 1
	last := cal.Active(q.LastReading)
	if q.TimeDue < Never {
		chance = u.Probability(q.Way, cal.Active(q.TimeDue)-last)
	}
	if a.Every <= 0 || q.Way <= 0 || chance < a.Chance ||
		q.Today-q.LastReading < a.Every || q.Today-q.LastAsked < a.Every {
		return false, chance
	}
	p10, _, p90 := u.Reach(q.Way)
	early := min(cal.After(q.LastReading, p10), q.TimeDue)
	late := min(cal.After(q.LastReading, p90), q.TimeDue)
	if early >= Never || q.Today < early-q.Notice-a.Ahead {
		return false, chance
	}
	return late-max(early, q.Today) >= a.Apart, chance
}
