package bulletin

import (
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

const (
	maxStepText = 2_000 // characters
	maxUsed     = 100   // parts or values of a step
	maxAhead    = 730   // days that a booking may be ahead
)

// may gives the states from which somebody may report a step. What is settled
// is opened again by FoundWrong or Reopened and by nothing else.
var may = map[StepKind][]FollowUpState{
	StepNotified:     {Open, Notified, Booked, DoneWrong, Refused, Exported},
	StepBooked:       {Open, Notified, Booked, DoneWrong, Refused, Exported, OwnerUnknown},
	StepDone:         {Open, Notified, Booked, DoneWrong, Refused, Exported, OwnerUnknown},
	StepNotNeeded:    {Open, Notified, Booked, DoneWrong, Refused, Exported, OwnerUnknown},
	StepPartNotThere: {Open, Notified, Booked, DoneWrong, Refused, Exported, OwnerUnknown},
	StepFoundWrong:   {Done, NotNeeded},
	StepReinspected:  {Done},
	StepRefused:      {Open, Notified, Booked, DoneWrong, Exported},
	StepOwnerUnknown: {Open, Notified, Booked, DoneWrong, Refused, Exported},
	StepExported:     {Open, Notified, Booked, DoneWrong, Refused, OwnerUnknown},
	StepScrapped:     {Open, Notified, Booked, DoneWrong, Refused, OwnerUnknown, Exported},
	StepReopened:     {Refused, OwnerUnknown, Exported, Scrapped},
	StepWritten: {
		Open, Notified, Booked, Done, NotNeeded, DoneWrong, Refused, OwnerUnknown, Exported, Scrapped, CalledOff,
	},
}

// Record adds a step that somebody reports. Evidence that shows the remedy to
// be wrong (a value outside its window, a part of the condemned lot) adds the
// step that says so too. The error is of kind Invalid for a step that is not
// whole, of kind FailedPrecondition for one that does not follow from where it
// stands. today bounds its date. f is not changed.
func (f *FollowUp) Record(r *Ready, s Step, today vehicle.Date) (FollowUp, error) {
	from, known := may[s.Kind]
	if !known {
		return *f, fault.InvalidField("step.kind", itoa(int(s.Kind)), "what somebody saw or did; the service itself makes the others")
	}
	st := f.Standing()
	if !slices.Contains(from, st.State) {
		return *f, fault.New(fault.FailedPrecondition, "STEP_NOT_NOW", "%s cannot be recorded now. %s", s.Kind.words(), st.words(today))
	}
	if s.Kind == StepWritten && f.written(s.Letter) {
		return *f, fault.New(fault.AlreadyExists, "LETTER_RECORDED", "That the letter %s went out is on record already.", s.Letter)
	}
	v := reported{step: &s, ready: r}
	v.letter(f, &st)
	v.dates(f, &st, today)
	v.whole()
	if err := fault.InvalidFields(v.wrong); err != nil {
		return *f, err
	}
	out := *f
	out.Steps = append(slices.Clip(f.Steps), s)
	if wanting := v.wanting(); len(wanting) > 0 {
		out.Steps = append(out.Steps, Step{
			Kind: StepFoundWrong, Date: f.counts(&s), Text: strings.Join(wanting, " "), RecordedBy: s.RecordedBy, Recorded: s.Recorded,
		})
	}
	return out, nil
}

// reported is a step that is looked at before it is recorded.
type reported struct {
	step  *Step
	ready *Ready
	wrong []fault.Field
}

func (v *reported) refuse(name, got, want string) {
	v.wrong = append(v.wrong, fault.Field{Name: "step." + name, Got: got, Want: want})
}

// dates bounds the day of the step. A remedy of the first round may have been
// carried out before the vehicle came on the list.
func (v *reported) dates(f *FollowUp, st *Standing, today vehicle.Date) {
	s, first, last := v.step, st.RoundBegan, today
	switch s.Kind {
	case StepDone, StepNotNeeded, StepPartNotThere:
		if !f.wasWrong() {
			first = vehicle.Date{}
		}
	case StepFoundWrong, StepReinspected, StepReopened:
		first = st.Since
	case StepBooked:
		first, last = today, today.AddDays(maxAhead)
	case StepWritten: // a letter of a former round may be recorded late
		first = f.Entered
	}
	switch {
	case s.Date.IsZero():
		v.refuse("step_date", "", "the day it happened")
	case s.Date.Before(first):
		v.refuse("step_date", s.Date.String(), "not before "+first.String())
	case s.Date.After(last):
		v.refuse("step_date", s.Date.String(), "not after "+last.String())
	}
}

// letter asks for the letter that went out, and for none with another step.
func (v *reported) letter(f *FollowUp, st *Standing) {
	s := v.step
	if s.Kind != StepWritten {
		if s.Letter != "" {
			v.refuse("letter", s.Letter, "nothing: only the reminder service says which letter went out")
		}
		return
	}
	if round, _, ok := readCycle(s.Letter); !ok || round > st.Round || !strings.HasPrefix(s.Letter, f.Bulletin+".") {
		v.refuse("letter", s.Letter, "a letter of the rounds 1 to "+itoa(st.Round)+", as in "+cycleOf(f.Bulletin, st.Round, 1))
	}
}

// written says whether it is on record that a letter went out.
func (f *FollowUp) written(letter string) bool {
	return slices.ContainsFunc(f.Steps, func(s Step) bool { return s.Kind == StepWritten && s.Letter == letter })
}

// wasWrong says whether work was ever found wrong: then only what was done
// since counts.
func (f *FollowUp) wasWrong() bool {
	return slices.ContainsFunc(f.Steps, func(s Step) bool { return s.Kind == StepFoundWrong })
}

// whole asks for what a step must say.
func (v *reported) whole() {
	s := v.step
	if fault.Longer(s.Text, maxStepText) {
		v.refuse("text", fault.Length(s.Text), fault.AtMost(maxStepText))
	}
	if len(s.Parts) > maxUsed {
		v.refuse("parts", itoa(len(s.Parts))+" parts", "at most "+itoa(maxUsed))
	}
	if len(s.Measured) > maxUsed {
		v.refuse("measured", itoa(len(s.Measured))+" values", "at most "+itoa(maxUsed))
	}
	text := strings.TrimSpace(s.Text) != ""
	switch s.Kind {
	case StepDone:
		if s.Evidence == "" {
			v.refuse("service_entry", "", "the service entry that shows it")
		}
		v.partsUsed()
		v.measured(true)
	case StepReinspected:
		if s.Evidence == "" && !text {
			v.refuse("service_entry", "", "the service entry that shows it, or text that says what was seen")
		}
		v.measured(false)
	case StepNotNeeded, StepPartNotThere:
		if !text {
			v.refuse("text", "", "what was looked at, and what was seen")
		}
	case StepFoundWrong:
		if !text {
			v.refuse("text", "", "what is wrong")
		}
	case StepRefused:
		if !text {
			v.refuse("text", "", "what the owner said, without names")
		}
	}
}

// partsUsed asks for the parts of the remedy, each with its lot.
func (v *reported) partsUsed() {
	used := map[string]int{}
	for _, p := range v.step.Parts {
		used[build.Fold(p.Part)] += p.quantity()
	}
	need := map[string]int{}
	for _, item := range v.ready.bulletin.Remedy {
		for _, want := range item.Parts {
			part := build.Fold(want.Part)
			if need[part] += want.Quantity; used[part] < need[part] {
				v.refuse("parts", itoa(used[part])+" of "+want.Part, itoa(need[part])+", as the remedy of "+item.ID+" asks")
			}
		}
	}
	for i, p := range v.step.Parts {
		if need[build.Fold(p.Part)] > 0 && strings.TrimSpace(p.Lot) == "" {
			v.refuse("parts["+itoa(i)+"].lot", "", "the lot as it is marked, or none where it bears none")
		}
	}
}

// measured asks for the values of the remedy, all of them or those that were
// measured, in the unit of their limits.
func (v *reported) measured(needed bool) {
	for _, item := range v.ready.bulletin.Remedy {
		for k := range item.Measured {
			limit := &item.Measured[k]
			m := v.find(item.ID, limit.Characteristic)
			switch {
			case m == nil && needed:
				v.refuse("measured", "", limit.Characteristic+" in "+limit.Unit+", as the remedy of "+item.ID+" asks")
			case m != nil && m.Value.Unit != limit.Unit:
				v.refuse("measured", m.Value.String(), limit.Characteristic+" in "+limit.Unit)
			}
		}
	}
}

func (v *reported) find(item, characteristic string) *Measurement {
	for i := range v.step.Measured {
		m := &v.step.Measured[i]
		if m.Characteristic == characteristic && (m.Item == item || m.Item == "") {
			return m
		}
	}
	return nil
}

// wanting says what the evidence shows to be wrong, in sentences.
func (v *reported) wanting() []string {
	if v.step.Kind != StepDone && v.step.Kind != StepReinspected {
		return nil
	}
	var found []string
	for _, item := range v.ready.bulletin.Remedy {
		for k := range item.Measured {
			limit := &item.Measured[k]
			if m := v.find(item.ID, limit.Characteristic); m != nil && !limit.Within(m.Value.Value) {
				found = append(found, "The "+spoken(limit.Characteristic)+" was measured as "+m.Value.String()+"; "+item.ID+" asks for "+windowOf(limit)+".")
			}
		}
	}
	for _, p := range v.step.Parts {
		unit := piece{
			Stay: &Stay{Position: p.Position, Part: p.Part, Lot: p.Lot}, part: build.Fold(p.Part), lot: build.Fold(p.Lot),
		}
		if v.ready.about(&unit) {
			found = append(found, p.String()+" is one of those that the bulletin is about.")
		}
	}
	return found
}

func windowOf(l *schedule.MeasuredLimit) string {
	switch {
	case l.Lower != nil && l.Upper != nil:
		return l.Lower.String() + " to " + l.Upper.String() + " " + l.Unit
	case l.Lower != nil:
		return l.Lower.String() + " " + l.Unit + " or more"
	case l.Upper != nil:
		return l.Upper.String() + " " + l.Unit + " or less"
	}
	return "any value"
}

var stepWords = [stepKinds]string{
	"A step", "An entry", "A letter", "A booking", "A remedy", "A finding that it needs none", "A finding that the work is wrong",
	"Another look", "A refusal", "An unknown owner", "An export", "A scrapping", "A reopening", "A calling-off",
	"A finding that the conditions hold no longer", "A missing part", "A finding that the conditions hold again",
	"A letter that went out", "A new version",
}

// words names the kind as a sentence begins.
func (k StepKind) words() string {
	if k <= NoStep || k >= stepKinds {
		return stepWords[NoStep]
	}
	return stepWords[k]
}

func itoa(n int) string { return strconv.Itoa(n) }
