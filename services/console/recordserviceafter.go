package console

import (
	"context"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
)

// afterService prints the entry, where its items stand now, what its measured
// values mean and what is doubtful about it. The entry stands: nothing that
// cannot be asked here may look like a refusal, or it would be recorded once
// more.
func (c *Console) afterService(ctx context.Context, made *schedulev1.ServiceEntry, cautions []string) error {
	serial := serialOf(made.GetName())
	now := c.standing(ctx, serial, nil)
	cautions = append(cautions, c.notApplying(ctx, made, now)...)
	judged := c.judgeEntry(ctx, made)
	doubtful, unit := c.doubtfulWith(ctx, made), ""
	if doubtful != nil {
		unit, _ = c.dialUnit(ctx, serial) // without it, miles
	}
	return c.print(made, func(s *sheet) {
		s.line("%s: recorded for %s as %s", serial, day(made.GetServiceDate()), made.GetName())
		for _, done := range made.GetItems() {
			for _, i := range now.GetItems() {
				if i.GetItemId() == done.GetItemId() {
					itemText(s, i, false)
				}
			}
		}
		if now == nil {
			s.text("  follows  ", "The schedule could not be asked. Where the items stand now: halfshaft schedule "+serial)
		}
		for _, j := range judged {
			recordedValueText(s, serial, j)
		}
		for _, text := range cautions {
			s.text("  CAUTION  ", text)
		}
		if doubtful != nil {
			readingText(s, doubtful, unit)
		}
	})
}

// standing is a schedule on a day (today, when on is nil); nil when that cannot
// be asked.
func (c *Console) standing(ctx context.Context, serial string, on *date.Date) *schedulev1.Schedule {
	x, err := c.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + serial + "/schedule", OnDate: on})
	if err != nil {
		return nil
	}
	return x
}

// notApplying gives a caution about each item of an entry that does not apply to
// the vehicle as it stood on the day of the work.
func (c *Console) notApplying(ctx context.Context, made *schedulev1.ServiceEntry, now *schedulev1.Schedule) (cautions []string) {
	serial, then := serialOf(made.GetName()), now
	if !proto.Equal(now.GetOnDate(), made.GetServiceDate()) {
		then = c.standing(ctx, serial, made.GetServiceDate())
	}
	if then == nil {
		return nil
	}
	applies := map[string]bool{}
	for _, i := range then.GetItems() {
		applies[i.GetItemId()] = true
	}
	for _, done := range made.GetItems() {
		if id := done.GetItemId(); !applies[id] {
			cautions = append(cautions, id+" is an item of the programme, but does not apply to "+serial+" as it stood on "+day(made.GetServiceDate())+
				". Look whether another item was meant, or whether a change of the vehicle was never recorded.")
		}
	}
	return cautions
}

// doubtfulWith is the reading that came with an entry, where it waits for a
// decision; nil otherwise.
func (c *Console) doubtfulWith(ctx context.Context, made *schedulev1.ServiceEntry) *schedulev1.Reading {
	if made.GetReading() == nil {
		return nil
	}
	readings, err := c.readings(ctx, "vehicles/"+serialOf(made.GetName()))
	if err != nil {
		return nil
	}
	for _, r := range readings {
		if idOf(r.GetName()) == idOf(made.GetName()) && r.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL {
			return r
		}
	}
	return nil
}

// judgedValue is a value of an entry and what it means; the judgement is nil
// where the service cannot say.
type judgedValue struct {
	value                          *vehiclev1.Quantity
	position, characteristic, item string
	judgement                      *schedulev1.MeasurementJudgement
}

// judgeEntry asks of each value of an entry what it means, those with which a
// joint was left by another pack of shims among them.
func (c *Console) judgeEntry(ctx context.Context, made *schedulev1.ServiceEntry) (all []judgedValue) {
	for _, done := range made.GetItems() {
		for _, v := range done.GetMeasured() {
			all = append(all, judgedValue{value: v.GetValue(), position: v.GetPosition(), characteristic: v.GetCharacteristic(), item: done.GetItemId()})
		}
		for _, w := range done.GetShims() {
			if w.GetMeasuredAfter() != nil {
				all = append(all, judgedValue{value: w.GetMeasuredAfter(), position: w.GetPosition(), characteristic: w.GetCharacteristic(), item: done.GetItemId()})
			}
		}
	}
	for i := range all {
		v := &all[i]
		j, err := c.Schedules.JudgeMeasurement(ctx, &schedulev1.JudgeMeasurementRequest{
			Parent: "vehicles/" + serialOf(made.GetName()), Value: v.value, Position: v.position, Characteristic: v.characteristic,
			ItemId: v.item, MeasuredDate: made.GetServiceDate(),
		})
		if err == nil && j.GetQuestion() == "" {
			v.judgement = j
		}
	}
	return all
}

// recordedValueText reads out what a recorded value means: the verdict, and what
// to do and to mind where something is to be done.
func recordedValueText(s *sheet, serial string, v judgedValue) {
	j := v.judgement
	if j == nil {
		s.text("  measured ", quantityName(v.position, v.characteristic)+", "+quantity(v.value)+": no item in force says what it should be. See it among the others: halfshaft measured "+serial)
		return
	}
	q := j.GetQuantity()
	reasons := map[string]string{}
	for i, r := range j.GetReasons() {
		if i < len(judgementLabels) {
			reasons[judgementLabels[i]] = r.GetSentence()
		}
	}
	s.text("  measured ", quantityName(q.GetPosition(), q.GetCharacteristic())+": "+reasons["verdict  "])
	if j.GetAdvice() == schedulev1.MeasuredAdvice_MEASURED_ADVICE_FINE {
		return
	}
	if j.GetImplausible() {
		s.text("  compared ", reasons["compared "])
	}
	s.text("  DO       ", reasons["DO       "])
	if j.GetCaution() != "" {
		s.text("  CAUTION  ", j.GetCaution())
	}
	if j.GetSample() {
		s.line("  values   sample, to be signed by the works' engineer")
	}
}
