package ownerpages

import (
	"html/template"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/figure"
	"halfshaft/services/internal/locale"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// vehicleName is what the works calls such a vehicle, as far as the service
// programme is named after it: "programmes/packhorse/versions/2" is of a
// "Packhorse". Empty without a programme.
func vehicleName(s *schedulev1.Schedule) string {
	name, _, _ := strings.Cut(strings.TrimPrefix(s.GetProgramme(), "programmes/"), "/")
	words := strings.FieldsFunc(name, func(r rune) bool { return r == '-' || r == '_' })
	for i, word := range words {
		words[i] = wording.UpperFirst(word)
	}
	return strings.Join(words, " ")
}

// heading is the vehicle's name and serial.
func (v *visit) heading(s *schedulev1.Schedule) string {
	return strings.TrimSpace(vehicleName(s) + " " + v.target.Serial)
}

// about says which vehicle it is. Of the build record an owner's page repeats
// what anybody sees who stands beside the vehicle: whoever a message is
// forwarded to may read it. The frame number, the keys and the plate are not
// among it.
func (v *visit) about(s *schedulev1.Schedule) ([]labelled, error) {
	b, err := v.Builds.GetBuild(v.owner(), &buildv1.GetBuildRequest{Name: "builds/" + v.target.Serial})
	if err != nil {
		return nil, err
	}
	var all []labelled
	add := func(label, value string) {
		if value != "" {
			all = append(all, labelled{label, value})
		}
	}
	add(v.say("vehicle.form"), v.wheelbase(b.GetWheelbase()))
	add(v.say("vehicle.finish"), v.finish(b))
	add(v.say("vehicle.delivered"), v.habit.Date(dayIn(s.GetDeliveryDate())))
	add(v.say("vehicle.spoken"), v.spoken(vehicle.Serial(v.target.Serial)))
	return all, nil
}

// spoken spells a serial as our messages do: letters in the international
// alphabet, digits in the reader's language.
func (v *visit) spoken(s vehicle.Serial) string {
	spelled := strings.Fields(s.Spoken())
	for i := range spelled {
		if c := s[min(i, len(s)-1)]; c >= '0' && c <= '9' {
			spelled[i] = v.say("digit." + string(c))
		}
	}
	return strings.Join(spelled, " ")
}

// wheelbase is the form of the vehicle in the reader's words, where we have them.
func (v *visit) wheelbase(word string) string {
	switch word {
	case "short":
		return v.say("vehicle.short")
	case "long":
		return v.say("vehicle.long")
	}
	return word
}

// finish says what was done with the donor's surface, and what the works notes
// of it.
func (v *visit) finish(b *buildv1.Build) string {
	said, note := "", v.item("", "finish", b.GetFinishNote())
	switch b.GetFinish() {
	case buildv1.Finish_FINISH_ORIGINAL_RETAINED:
		said = v.say("vehicle.finish-kept")
	case buildv1.Finish_FINISH_REFINISHED:
		said = v.say("vehicle.finish-renewed")
	}
	switch {
	case said == "":
		return note
	case note == "":
		return said
	}
	return said + ": " + note
}

// figureReader is how this reader reads the figures.
func (r reader) figureReader() figure.Reader {
	return figure.Reader{Language: r.words.Tag()[:2], Unit: r.habit.Unit(), Date: r.habit.Date, Number: r.habit.Decimal}
}

// draw writes a figure for this reader.
func (r reader) draw(id string, draw func(figure.Reader, figure.Layout) figure.Figure) template.HTML {
	who := r.figureReader()
	drawn := figure.Block(id, who, func(l figure.Layout) figure.Figure { return draw(who, l) })
	return template.HTML(locale.Spell(r.words.Tag(), string(drawn)))
}

// planFigure draws the visits of the months to come.
func (v *visit) planFigure(plan *schedulev1.VisitPlan, s *schedulev1.Schedule) template.HTML {
	f := figure.Visits{Vehicle: v.target.Serial, Today: v.today, Months: planMonths}
	for _, x := range plan.GetVisits() {
		one := figure.Visit{On: dayIn(x.GetVisitDate())}
		for _, t := range x.GetTasks() {
			one.Items = append(one.Items, v.title(t.GetItemId(), t.GetTitle()))
		}
		f.Visits = append(f.Visits, one)
	}
	if l := s.GetLayUp(); l.GetStartDate() != nil && l.GetEndDate() != nil {
		f.LayUps = []figure.Span{{From: dayIn(l.GetStartDate()), To: dayIn(l.GetEndDate())}}
	}
	return v.draw("visits", f.Figure)
}
