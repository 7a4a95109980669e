package ownerpages

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/locale"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// dialForm is what a form has about the odometer, as it is shown and as it
// comes back.
type dialForm struct {
	Value, Unit, Date string
	Exact             string // the value chosen of Which
	Sure              string // what was asked back the last time

	Which []choice // the values that Value may mean
	Asked string   // what is to be confirmed; "" for nothing
}

// choice is one of several.
type choice struct {
	Value, Label string
	Chosen       bool
}

// dialOf reads the fields.
func dialOf(f form) dialForm {
	return dialForm{Value: f.text("value"), Unit: f.text("unit"), Date: f.text("date"), Exact: f.text("exact"), Sure: f.text("sure")}
}

// dayIn gives a date of a message; zero for none or one that is no date.
func dayIn(p *date.Date) vehicle.Date {
	d, err := vehiclewire.Date(p)
	if err != nil {
		return vehicle.Date{}
	}
	return d
}

// lengthIn gives a distance of a message; zero for none or one that is none.
func lengthIn(p *vehiclev1.Distance) vehicle.Distance {
	d, err := vehiclewire.Distance(p)
	if err != nil {
		return 0
	}
	return d
}

// entered reads what the dial showed. The phrase that says what is wrong is ""
// when nothing is; with Which set the reader is to choose first.
func (v *visit) entered(d *dialForm) (e vehicle.Entered, wrong string) {
	unit, err := vehicle.ParseUnit(d.Unit)
	if err != nil {
		return e, "wrong.unit"
	}
	values, err := readFigures(d.Value, v.mark())
	if d.Exact != "" {
		values, err = one(d.Exact)
	}
	switch {
	case errors.Is(err, errTooMany):
		return e, "wrong.digits"
	case err != nil:
		return e, "wrong.figures"
	case len(values) > 1:
		for _, value := range values {
			label := v.figures(vehicle.Entered{Value: value, Unit: unit})
			if value.Scale > 0 {
				whole, _, _ := strings.Cut(value.String(), ".")
				label = v.say("odometer.fraction", "value", label, "whole", whole)
			}
			d.Which = append(d.Which, choice{Value: value.String(), Label: label})
		}
		return e, "wrong.which"
	}
	return vehicle.Entered{Value: values[0], Unit: unit}, ""
}

// figures says what a dial shows, in the dial's unit: "12,345.6 miles".
func (r reader) figures(e vehicle.Entered) string {
	key := "unit.miles"
	if e.Unit == vehicle.Kilometres {
		key = "unit.kilometres"
	}
	return r.say(key, "n", r.habit.Decimal(e.Value.String()))
}

// in is the reader's habit with another unit.
func (r reader) in(unit vehicle.Unit) locale.Locale { return r.words.Locale(r.habit.Tag(), unit) }

// roughly says a distance that is estimated, in the reader's unit, with the dial's
// behind it in brackets where that counts another; both as the letters round it.
func (r reader) roughly(d vehicle.Distance, dial vehicle.Unit) string {
	text := r.habit.About(d)
	if dial.Valid() && dial != r.habit.Unit() {
		text += " (" + r.in(dial).About(d) + ")"
	}
	return text
}

// day reads a day on which something was read or done: not later than today.
func (v *visit) day(text string) (vehicle.Date, string) {
	on, err := vehicle.ParseDate(text)
	if err != nil || on.After(v.today) {
		return vehicle.Date{}, "wrong.day-past"
	}
	return on, ""
}

// firstDay is the first day of which a reading is taken in here, with the phrase
// that says of an earlier one why it is not: what a dial showed longer ago is
// told to a person.
func (v *visit) firstDay(s *schedulev1.Schedule) (first vehicle.Date, wrong string) {
	first, wrong = v.today.AddMonths(-12), "wrong.day-old"
	if delivered := dayIn(s.GetDeliveryDate()); delivered.After(first) {
		first, wrong = delivered, "wrong.day-delivered"
	}
	return first, wrong
}

// digits is how many digits the dial has, the most of any where that is not on
// record.
func digits(s *schedulev1.Schedule) int {
	if n := int(s.GetPace().GetDialDigits()); n > 0 {
		return n
	}
	return mostDigits
}

// mostShown is the most that a dial of n digits shows, tenths not counted.
func mostShown(n int) int64 { return int64(math.Pow10(n)) - 1 }

// limits are the placeholders of the phrases that say what is wrong with a
// reading.
func (v *visit) limits(s *schedulev1.Schedule) []string {
	first, _ := v.firstDay(s)
	n := digits(s)
	return []string{"date", v.habit.Date(first), "n", strconv.Itoa(n), "most", v.habit.Number(mostShown(n))}
}

// readings gives what was read before, the oldest first.
func (v *visit) readings() ([]*schedulev1.Reading, error) {
	var all []*schedulev1.Reading
	ask := &schedulev1.ListReadingsRequest{Parent: v.vehicle, PageSize: 500}
	for {
		page, err := v.Schedules.ListReadings(v.owner(), ask)
		if err != nil {
			return nil, err
		}
		all = append(all, page.GetReadings()...)
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			return all, nil
		}
	}
}

// looked is a reading that counts.
type looked struct {
	on    vehicle.Date
	value vehicle.Entered
}

// counted gives those of the readings that count.
func counted(all []*schedulev1.Reading) []looked {
	var count []looked
	for _, m := range all {
		value := m.GetValue()
		if c := m.GetSettlement().GetCorrected(); c != nil {
			value = c
		}
		e, err := vehiclewire.Entered(value)
		if m.GetState() == schedulev1.ReadingState_READING_STATE_COUNTED && err == nil && !e.IsZero() {
			count = append(count, looked{dayIn(m.GetReadingDate()), e})
		}
	}
	return count
}

// Beyond these a value is asked back once. The service judges it by itself
// afterwards (common practice, no source).
const (
	mostInADay = 600 * vehicle.Mile
	aTour      = 1000 * vehicle.Mile
	timesUsual = 4
)

// unlikely says what is odd about a value, in the words of a question; "" when
// nothing is. perYear is what the vehicle hardly drives more than in a year, 0
// when that is not known.
func (r reader) unlikely(e vehicle.Entered, on vehicle.Date, before []looked, perYear vehicle.Distance) string {
	now, err := e.Distance()
	if err != nil {
		return ""
	}
	for i := len(before) - 1; i >= 0; i-- {
		last := before[i]
		then, err := last.value.Distance()
		days := last.on.DaysUntil(on)
		if err != nil || days < 0 {
			continue
		}
		way := now - then
		switch {
		case way < 0:
			return r.say("odometer.less", "value", r.figures(last.value), "date", r.habit.Date(last.on))
		case way > mostInADay*vehicle.Distance(days+1), perYear > 0 && way > aTour+timesUsual*perYear*vehicle.Distance(days)/365:
			in := r.words.Count("odometer.days", int64(days), map[string]string{"n": r.habit.Number(int64(days))})
			if days == 0 {
				in = r.say("odometer.same-day")
			}
			return r.say("odometer.much", "way", r.in(e.Unit).Distance(way), // the question is about the dial
				"days", in, "value", r.figures(last.value), "date", r.habit.Date(last.on))
		}
		return ""
	}
	return ""
}

// confirmed says whether a value may go on: it is likely for the dial and after
// what was read before, or was asked back before and sent again as it was.
func (v *visit) confirmed(d *dialForm, e vehicle.Entered, on vehicle.Date, before []looked, s *schedulev1.Schedule) bool {
	sum := e.String() + " " + on.String()
	if d.Sure == sum {
		return true
	}
	d.Asked = v.unlikely(e, on, before, lengthIn(s.GetPace().GetHighPerYear()))
	if e.Value.Cmp(vehicle.Decimal{Coefficient: mostShown(digits(s)) + 1}) >= 0 {
		d.Asked = v.say("odometer.digits", v.limits(s)...)
	}
	if d.Asked == "" {
		return true
	}
	d.Sure = sum
	return false
}

// units offers the units of a dial.
func (r reader) units(chosen string) []choice {
	return []choice{
		{"mi", r.say("unit.name.mi"), chosen != string(vehicle.Kilometres)},
		{"km", r.say("unit.name.km"), chosen == string(vehicle.Kilometres)},
	}
}
