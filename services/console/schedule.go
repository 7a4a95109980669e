package console

import (
	"context"
	"fmt"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Schedule prints what is due on a vehicle, when and why. why adds every step
// of the reasoning.
func (c *Console) Schedule(ctx context.Context, serial string, on vehicle.Date, why bool) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	schedule, err := c.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{
		Name: "vehicles/" + serialOf(name) + "/schedule", OnDate: vehiclewire.DateProto(on),
	})
	if err != nil {
		return err
	}
	standing := ""
	if !c.JSON {
		if standing, err = c.whatBecame(ctx, serialOf(name)); err != nil {
			return err
		}
	}
	return c.print(schedule, func(s *sheet) {
		if standing != "" {
			s.text("NOTE  ", standing)
		}
		scheduleText(s, schedule, why)
	})
}

func scheduleText(s *sheet, x *schedulev1.Schedule, why bool) {
	s.line("%s on %s", serialOf(x.GetName()), day(x.GetOnDate()))
	p := x.GetPace()
	if p.GetCountedReadings() > 0 {
		s.line("  distance   %s on %s; about %s today", distance(p.GetLifeDistance(), p.GetUnit()),
			day(p.GetReadingDate()), distance(p.GetEstimatedDistance(), p.GetUnit()))
	}
	s.text("  pace       ", p.GetEvidence().GetSentence()+" Four years in five lie between "+
		distance(p.GetLowPerYear(), p.GetUnit())+" and "+distance(p.GetHighPerYear(), p.GetUnit())+".")
	if ask := x.GetReadingRequest(); ask != nil {
		s.text("  ask        ", "for the odometer. "+ask.GetReason().GetSentence())
	}
	if n := int(x.GetDoubtfulReadings()); n > 0 {
		s.line("  readings   %s for a decision", plural(n, "reading waits", "readings wait"))
	}
	if l := x.GetLayUp(); l != nil {
		until := "return not known"
		if d := day(l.GetEndDate()); d != "" {
			until = "until " + d
		}
		s.line("  laid up    from %s, %s", day(l.GetStartDate()), until)
	}
	if x.GetSample() {
		s.line("  values     sample, to be signed by the works' engineer")
	}
	ownersChecks(s, x.GetItems())
	for _, group := range groups {
		items := inState(x.GetItems(), group.states)
		if len(items) == 0 || group.heading == nothingToDo && !why {
			continue
		}
		s.heading("%s", group.heading)
		for _, i := range items {
			itemText(s, i, why)
		}
	}
}

// nothingToDo heads what is printed only with every step of the reasoning.
const nothingToDo = "Nothing to do"

// groups are the sections of the printed schedule, the most urgent first.
var groups = []struct {
	heading string
	states  []schedulev1.DueState
}{
	{"Overdue", []schedulev1.DueState{schedulev1.DueState_DUE_STATE_OVERDUE}},
	{"Due", []schedulev1.DueState{schedulev1.DueState_DUE_STATE_DUE}},
	{"Coming", []schedulev1.DueState{schedulev1.DueState_DUE_STATE_COMING}},
	{"Later", []schedulev1.DueState{schedulev1.DueState_DUE_STATE_NOT_YET}},
	{nothingToDo, []schedulev1.DueState{schedulev1.DueState_DUE_STATE_NOTHING_TO_DO}},
}

// ownersChecks lists what an owner does without a workshop. Nobody records it,
// so nobody is told that it is overdue.
func ownersChecks(s *sheet, items []*schedulev1.ItemStatus) {
	var rows [][]string
	for _, i := range items {
		if !i.GetItem().GetOwnerCheck() || i.GetItem().GetEvery() == nil {
			continue
		}
		often := "every month"
		if n := i.GetItem().GetEvery().GetMonths(); n > 1 {
			often = "every " + plural(int(n), "month", "months")
		}
		rows = append(rows, []string{i.GetItemId(), often, i.GetTitle()})
	}
	if len(rows) > 0 {
		s.heading("The owner's own checks")
		s.table("  ", rows)
	}
}

// inState gives the workshop's items in one of the states; an owner's check
// that an event started is among them.
func inState(items []*schedulev1.ItemStatus, states []schedulev1.DueState) []*schedulev1.ItemStatus {
	var some []*schedulev1.ItemStatus
	for _, i := range items {
		if i.GetItem().GetOwnerCheck() && (i.GetItem().GetEvery() != nil || i.GetState() == schedulev1.DueState_DUE_STATE_OVERDUE) {
			continue
		}
		for _, s := range states {
			if i.GetState() == s {
				some = append(some, i)
			}
		}
	}
	return some
}

func itemText(s *sheet, i *schedulev1.ItemStatus, why bool) {
	s.text("  "+i.GetItemId()+"  ", i.GetSentence())
	if !why {
		return
	}
	for _, r := range i.GetReasons() {
		s.text("       ", r.GetSentence())
	}
	if from, latest := day(i.GetSensibleFromDate()), day(i.GetLatestDate()); from != "" && latest != "" {
		s.text("       ", "may well be done from "+from+" on; at the latest on "+latest)
	}
	for _, m := range i.GetLastMeasured() {
		text := m.GetCharacteristic() + " " + quantity(m.GetValue()) + " on " + day(m.GetMeasuredDate())
		if m.GetPosition() != "" {
			text = m.GetPosition() + ", " + text
		}
		if !m.GetWithinLimits() {
			text += ", outside its limits"
		}
		s.text("       ", "last measured: "+text)
	}
	if caution := i.GetItem().GetCaution(); caution != "" {
		s.text("       CAUTION ", caution)
	}
}

// Due prints the vehicles with something to do within a time.
func (c *Console) Due(ctx context.Context, days int32, on vehicle.Date) error {
	schedules, err := page.All(func(token string) ([]*schedulev1.Schedule, string, error) {
		r, err := c.Schedules.ListDue(ctx, &schedulev1.ListDueRequest{
			WithinDays: days, OnDate: vehiclewire.DateProto(on), PageSize: 200, PageToken: token,
		})
		return r.GetSchedules(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, schedules, func(s *sheet) {
		if len(schedules) == 0 {
			s.line("Nothing is due within %s.", plural(int(days), "day", "days"))
			return
		}
		s.line("%s with something to do within %s", plural(len(schedules), "vehicle", "vehicles"), plural(int(days), "day", "days"))
		for _, x := range schedules {
			s.heading("%s", serialOf(x.GetName()))
			var rows [][]string
			if ask := x.GetReadingRequest(); ask != nil {
				s.text("  ask for a reading: ", ask.GetReason().GetSentence())
			}
			for _, i := range x.GetItems() {
				rows = append(rows, []string{i.GetItemId(), word(i.GetState(), "DUE_STATE_"), day(i.GetActByDate()), i.GetTitle()})
			}
			s.table("  ", rows)
		}
	})
}

// readingText says what became of a recorded reading.
func readingText(s *sheet, r *schedulev1.Reading, unit string) {
	s.line("%s: %s on %s, %s", serialOf(r.GetName()), entered(r.GetValue()), day(r.GetReadingDate()), word(r.GetState(), "READING_STATE_"))
	if d := r.GetSettlement(); d != nil {
		verdict := word(d.GetVerdict(), "VERDICT_")
		if c := entered(d.GetCorrected()); c != "" {
			verdict += " to " + c
		}
		if d.GetSettledBy() != "" {
			verdict += " by " + d.GetSettledBy()
		}
		if at := d.GetSettleTime(); at != nil {
			verdict += " on " + vehicle.DateOf(at.AsTime()).Long()
		}
		s.text("  decided ", verdict+": "+d.GetReason())
	}
	switch r.GetState() {
	case schedulev1.ReadingState_READING_STATE_COUNTED:
		s.line("  true distance %s", distance(r.GetLifeDistance(), unit))
	case schedulev1.ReadingState_READING_STATE_DOUBTFUL:
		doubtText(s, r)
	}
}

// doubtText lists what may be behind a doubtful reading, and what to type to
// decide so.
func doubtText(s *sheet, r *schedulev1.Reading) {
	s.line("  It is kept, and does not count until somebody decides. The likeliest explanation first:")
	for i, e := range r.GetExplanations() {
		s.text(fmt.Sprintf("  %d. ", i+1), e.GetSentence())
		if verdict := word(e.GetVerdict(), "VERDICT_"); e.GetVerdict() != schedulev1.Verdict_VERDICT_UNSPECIFIED {
			verdict = strings.ReplaceAll(verdict, " ", "-")
			if e.GetVerdict() == schedulev1.Verdict_VERDICT_CORRECTED {
				verdict += " --corrected '" + entered(e.GetWouldRead()) + "'"
			}
			s.line("     > %s", verdict)
		}
		if e.GetRule() == "DIAL_REPLACED" {
			s.text("     > ", "halfshaft record change "+serialOf(r.GetName())+" dial --digits N --unit UNIT --turns-per-unit N --start VALUE"+
				" --reading VALUE --on DAY --source service --reason WHY")
		}
	}
	s.line("  To decide: halfshaft settle %s VERDICT --reason WHY", r.GetName())
}
