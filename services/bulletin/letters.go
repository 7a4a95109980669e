package bulletin

import (
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
)

// Letter is one letter of a round.
type Letter struct {
	Cycle  string // what the reminder service claims: "C-2026-02.1" for the first letter of the first round, then "C-2026-02.1-2"
	Round  int
	Number int // of the round, from 1
	Date   vehicle.Date
}

// cycleOf names a letter. It depends on nothing but round and number, so that
// it is the same in every pass.
func cycleOf(bulletin string, round, number int) string {
	cycle := bulletin + "." + itoa(round)
	if number > 1 {
		cycle += "-" + itoa(number)
	}
	return cycle
}

// cycleEnd gives what names the letter in a cycle, with its full stop: ".1-2".
func cycleEnd(cycle string) string { return cycle[max(0, strings.LastIndexByte(cycle, '.')):] }

// readCycle gives round and number of a letter; false for what cycleOf does not
// write.
func readCycle(cycle string) (round, number int, ok bool) {
	end := strings.TrimPrefix(cycleEnd(cycle), ".")
	first, second, more := strings.Cut(end, "-")
	round, err := strconv.Atoi(first)
	if number = 1; more && err == nil {
		number, err = strconv.Atoi(second)
	}
	return round, number, err == nil && round > 0 && number > 0 && cycleOf(cycle[:len(cycle)-len(end)-1], round, number) == cycle
}

// usualLetters are the days of the letters where a plan has none (common
// practice, no source).
func usualLetters() []int { return []int{0, 30, 90} }

// date gives the day of a letter of a round, counted from its beginning; false
// after the last. What recurs each year is counted from the last of the first
// letters, so that one of 29 February comes back to it.
func (p Plan) date(began vehicle.Date, number int) (vehicle.Date, bool) {
	first := p.LetterDays
	if len(first) == 0 {
		first = usualLetters()
	}
	if number <= len(first) {
		return began.AddDays(first[number-1]), true
	}
	last, n := began.AddDays(first[len(first)-1]), number-len(first)
	switch {
	case p.RepeatDays == NoRepeat:
		return vehicle.Date{}, false
	case p.RepeatDays > 0:
		return last.AddDays(n * p.RepeatDays), true
	}
	return last.AddMonths(12 * n), true
}

// repeats says whether a letter is one of those that come again and again.
func (p Plan) repeats(number int) bool {
	if len(p.LetterDays) == 0 {
		return number > len(usualLetters())
	}
	return number > len(p.LetterDays)
}

// Letters gives the letters of the round that is open: those whose day has come
// by the end of the day on, and the next. None once nothing is open, nobody can
// be written to, or the vehicle meets the conditions no longer: that a person
// has to settle.
//
// An owner who refused, or whose vehicle left the country, is written to where
// somebody can be hurt, and then by the letters that repeat alone, and by the
// first of a round that a new version began.
func (f *FollowUp) Letters(b *Bulletin, on vehicle.Date) []Letter {
	st := f.StandingOn(on)
	if st.State == NoFollowUpState || st.State.Settled() || st.State == OwnerUnknown || !st.NoLongerMeets.IsZero() {
		return nil
	}
	seldom := st.State == Refused || st.State == Exported
	if seldom && !b.Safety() {
		return nil
	}
	var letters []Letter
	var before vehicle.Date
	for n := 1; ; n++ {
		d, ok := b.Plan.date(st.RoundBegan, n)
		if !ok || d == before { // after the last letter, or at the end of the calendar
			return letters
		}
		before = d
		if !seldom || b.Plan.repeats(n) && d.After(st.Since) || st.Renewed && n == 1 {
			letters = append(letters, Letter{cycleOf(f.Bulletin, st.Round, n), st.Round, n, d})
			if d.After(on) {
				return letters
			}
		}
	}
}

// nearWhereUseStops is how many days ahead an agreed day holds letters where the
// vehicle must not be driven until then: not a whole winter. Our own choice.
const nearWhereUseStops = 30

// Tell gives the letter that is to go out on a day: the last whose day has
// come, unless the owner was told since by other means, or a day is agreed and
// has not passed; where the vehicle must not be driven, a day that is near. It is the same in every pass until the next letter's day, so
// that a claim of its cycle sends it once. What was written before the follow-up
// was taken over from another store, whose claims did not come along, does not go
// out again.
func (f *FollowUp) Tell(b *Bulletin, on vehicle.Date) (Letter, bool) {
	st := f.StandingOn(on)
	if st.State == Booked && !st.BookedFor.Before(on) && (!b.StopUse || !st.BookedFor.After(on.AddDays(nearWhereUseStops))) {
		return Letter{}, false
	}
	var now Letter
	for _, l := range f.Letters(b, on) {
		if !l.Date.After(on) {
			now = l
		}
	}
	return now, now.Number > 0 && st.NotifiedLast.Before(now.Date) && !f.writtenBefore(now.Cycle)
}
