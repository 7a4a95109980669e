package bulletin

import (
	"cmp"
	"fmt"
	"slices"

	"halfshaft/services/vehicle"
)

// Missing is a vehicle of a campaign that is not settled, with why.
type Missing struct {
	FollowUp *FollowUp
	Standing Standing
	Why      vehicle.Reason
}

// Report is where a campaign stands at the end of a day.
type Report struct {
	Bulletin   Bulletin
	On         vehicle.Date
	Began      vehicle.Date // when the campaign did: with its first version, whichever this is
	Quarter    Quarter      // the zero value for a report of a day
	Counts     Counts
	InQuarter  Counts // what was added in the quarter; may be negative, where work was found wrong
	States     map[FollowUpState]int
	Curve      []CurvePoint // the days on which something changed, until On
	Missing    []Missing    // by why, then serial
	NotifyBy   vehicle.Date // see NotifyBy; zero without a report
	NotifiedBy int          // vehicles of the list that were told by then, or by On where that is earlier
}

// ReportOn says where a campaign stands at the end of a day.
func ReportOn(b *Bulletin, list []FollowUp, on vehicle.Date) Report {
	r := Report{Bulletin: *b, On: on, Began: began(b, list), NotifyBy: NotifyBy(b.Reported)}
	r.Curve = curve(r.Began, list, on)
	r.Counts, r.States = countsOn(list, on)
	by := on
	if r.NotifyBy.Before(on) && !r.NotifyBy.IsZero() {
		by = r.NotifyBy
	}
	for i := range list {
		st := list[i].StandingOn(on)
		if !st.NotifiedFirst.IsZero() && !st.NotifiedFirst.After(by) {
			r.NotifiedBy++
		}
		if st.State != NoFollowUpState && !st.State.Settled() {
			r.Missing = append(r.Missing, Missing{&list[i], st, whyMissing(&list[i], &st, on)})
		}
	}
	slices.SortFunc(r.Missing, func(a, b Missing) int {
		return cmp.Or(cmp.Compare(a.Why.Rule, b.Why.Rule), cmp.Compare(a.FollowUp.Serial, b.FollowUp.Serial))
	})
	return r
}

// began gives the day on which a campaign did: a later version, of other words
// perhaps, makes it no younger for those who were on the list before.
func began(b *Bulletin, list []FollowUp) vehicle.Date {
	first := b.Issued
	for i := range list {
		if on := list[i].Entered; first.IsZero() || on.Before(first) {
			first = on
		}
	}
	return first
}

// QuarterReport says what became of a campaign in a quarter, and where it stood
// at its end.
func QuarterReport(b *Bulletin, list []FollowUp, q Quarter) Report {
	r := ReportOn(b, list, q.Last())
	before, _ := countsOn(list, q.First().AddDays(-1))
	r.Quarter, r.InQuarter = q, r.Counts.since(before)
	return r
}

// whyMissing says why a vehicle is not settled.
func whyMissing(f *FollowUp, st *Standing, on vehicle.Date) vehicle.Reason {
	rule := ""
	switch {
	case !st.NoLongerMeets.IsZero():
		rule = "NO_LONGER_MEETS"
	case st.State == OwnerUnknown:
		rule = "OWNER_UNKNOWN"
	case st.State == Exported:
		rule = "EXPORTED"
	case st.State == Refused:
		rule = "REFUSED"
	case st.State == DoneWrong:
		rule = "DONE_WRONG"
	case st.State == Booked && st.BookedFor.Before(on):
		rule = "BOOKING_PASSED"
	case st.State == Booked:
		rule = "BOOKED"
	case st.NotifiedLast.IsZero() && st.WrittenLast.IsZero():
		rule = "NOT_TOLD"
	default:
		rule = "NO_ANSWER"
	}
	return vehicle.Reason{
		Rule: rule, Record: f.Name(), Sentence: f.Sentence(on),
		Facts: []vehicle.Fact{{Name: "since", Value: st.Since.String()}, {Name: "round", Value: itoa(st.Round)}},
	}
}

// Sentences are the report for print. They say which law the classes are taken
// from, and that counsel goes first.
func (r *Report) Sentences() []string {
	c := &r.Counts
	lines := []string{r.heading()}
	lines = append(lines,
		fmt.Sprintf("On the list %s: %d told, %d remedied, %d looked at and in no need of it.", vehicles(c.Vehicles), c.Notified, c.Remedied, c.NotNeeded),
		fmt.Sprintf("Not reached or not to be reached: %d with an unknown owner, %d exported, %d scrapped. %d refused by the owner, %d called off.",
			c.Unreachable, c.Exported, c.Scrapped, c.Refused, c.CalledOff),
		fmt.Sprintf("Outstanding: %d.", c.Outstanding),
	)
	if c.NoLongerMeets > 0 {
		lines = append(lines, fmt.Sprintf("Of those not settled, the conditions hold no longer for %s: to stay on the list until a person has settled it.", vehicles(c.NoLongerMeets)))
	}
	if !r.Quarter.IsZero() {
		q := &r.InQuarter
		lines = append(lines, fmt.Sprintf("In the quarter: %+d on the list, %+d told, %+d remedied, %+d in no need, %+d unknown owner, %+d exported, %+d scrapped.",
			q.Vehicles, q.Notified, q.Remedied, q.NotNeeded, q.Unreachable, q.Exported, q.Scrapped),
			fmt.Sprintf("The report of this quarter would be due by %s (49 CFR 573.7(d), an example, from memory).", QuarterReportBy(r.Quarter).Long()))
	}
	if n := len(r.Curve); n > 0 {
		p := r.Curve[n-1]
		lines = append(lines, fmt.Sprintf("Completed %d of %d that can be, %.1f %%, %s after the issue.",
			p.Completed, p.Vehicles-p.Scrapped, 100*p.Share(), days(r.Began.DaysUntil(r.On))))
	}
	lines = append(lines, r.deadline()...)
	for _, m := range r.Missing {
		lines = append(lines, string(m.FollowUp.Serial)+": "+m.Why.Sentence)
	}
	return append(lines, LegalNote)
}

func (r *Report) heading() string {
	what := r.Bulletin.ID + ", " + r.Bulletin.Title
	if r.Bulletin.Sample {
		what += " (sample, to be signed by the works' engineer)"
	}
	if r.Quarter.IsZero() {
		return what + ": on " + r.On.Long() + "."
	}
	return what + ": " + r.Quarter.String() + ", " + r.Quarter.First().Long() + " to " + r.Quarter.Last().Long() + "."
}

// deadline says by when owners are to be told, and whether they were.
func (r *Report) deadline() []string {
	if r.NotifyBy.IsZero() {
		return nil
	}
	text := fmt.Sprintf("Letters by %s, 60 days after the report of %s (49 CFR 577.7(a)(1), an example): ",
		r.NotifyBy.Long(), r.Bulletin.Reported.Long())
	if r.On.After(r.NotifyBy) {
		return []string{text + fmt.Sprintf("%d of %d were told by then.", r.NotifiedBy, r.Counts.Vehicles)}
	}
	return []string{text + fmt.Sprintf("%s left, %d of %d told.", days(r.On.DaysUntil(r.NotifyBy)), r.NotifiedBy, r.Counts.Vehicles)}
}

func vehicles(n int) string {
	if n == 1 {
		return "1 vehicle"
	}
	return itoa(n) + " vehicles"
}
