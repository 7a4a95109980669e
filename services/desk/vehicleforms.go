package desk

import (
	"fmt"
	"net/http"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// iso writes a day as fields of dates have it.
func iso(d *date.Date) string {
	if day := onDay(d); !day.IsZero() {
		return day.String()
	}
	return ""
}

var readingSources = []option{{Value: "OWNER", Label: "its owner"}, {Value: "DEALER", Label: "a dealer or mechanic"}, {Value: "WORKS", Label: "the works"}, {Value: "INSPECTION", Label: "an official inspection"}}

func (v *visit) readingForm() *form {
	return &form{ID: "reading", Action: v.at("/readings/new"), Submit: "Record the reading", Fields: []field{
		{Name: "reading.value", Label: "What the odometer shows", Type: "text", Inputmode: "decimal", Required: true, Autocomplete: "off", Hint: "In the unit of its dial; another is said behind it, as in 66350 km."},
		{Name: "reading.reading_date", Label: "Read on", Type: "date", Hint: "Left empty, it is today."},
		{Name: "reading.source", Label: "Who read it", Options: append([]option(nil), readingSources...)},
		{Name: "reading.note", Label: "Note", Type: "text", Autocomplete: "off"}, requestField(),
	}}
}

func (v *visit) showNewReading() { v.formPage(http.StatusOK, "Record a reading", v.readingForm()) }

func (v *visit) recordReading() {
	if !v.readForm() {
		return
	}
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	r := &schedulev1.Reading{
		Value: t.dial("reading.value", x.GetPace().GetUnit()), ReadingDate: t.date("reading.reading_date"),
		Source: schedulev1.ReadingSource(schedulev1.ReadingSource_value["READING_SOURCE_"+v.value("reading.source")]), Note: v.value("reading.note"),
	}
	made := &schedulev1.Reading{}
	if err = t.err(); err == nil {
		made, err = v.d.Schedules.RecordReading(v.as(), &schedulev1.RecordReadingRequest{Parent: v.vehicle(), Reading: r, RequestId: v.request()})
	}
	if err != nil {
		f := v.readingForm().filled(v)
		v.again(err, f, func(status int) { v.formPage(status, "Record a reading", f) })
		return
	}
	if made.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL && v.staff() {
		v.goTo(v.at("/readings/" + bare(made.GetName()) + "?done=reading"))
		return
	}
	v.goTo(v.at("?done=reading"))
}

// reading finds the reading that the address names.
func (v *visit) reading() (*schedulev1.Reading, error) {
	all, err := v.readings()
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		if bare(r.GetName()) == v.r.PathValue("reading") {
			return r, nil
		}
	}
	return nil, fault.New(fault.NotFound, "NO_READING", "there is no such reading of this vehicle")
}

func (v *visit) settleForm(r *schedulev1.Reading) *form {
	verdicts := []option{{Value: "", Label: "choose"}, {Value: "AS_READ", Label: "It counts as it was read"}, {Value: "ROLLED_OVER", Label: "It counts: the dial went round"},
		{Value: "CORRECTED", Label: "It counts with the corrected value"}, {Value: "REJECTED", Label: "It does not count"}}
	return &form{ID: "settle", Action: v.at("/readings/" + v.r.PathValue("reading")), Submit: "Settle the reading", Fields: []field{
		{Name: "settlement.verdict", Label: "Decision", Options: verdicts},
		{Name: "settlement.corrected", Label: "Corrected value", Type: "text", Inputmode: "decimal", Autocomplete: "off", Hint: "Only where it was really another."},
		{Name: "settlement.reason", Label: "Why", Type: "text", Autocomplete: "off", Required: true, Hint: "Without names."},
		{Name: "etag", Type: "hidden", Value: r.GetEtag()}, requestField(),
	}}
}

func (v *visit) showSettle() {
	r, err := v.reading()
	if err != nil {
		v.refuse(err)
		return
	}
	v.settlePage(http.StatusOK, r, v.settleForm(r))
}

func (v *visit) settlePage(status int, r *schedulev1.Reading, f *form) {
	b := block{Facts: []fact{{Label: "Read", Value: entered(r.GetValue())}, {Label: "On", Value: civil(r.GetReadingDate())}, {Label: "State", Value: word(r.GetState(), "READING_STATE_")}}}
	if r.GetNote() != "" {
		b.Facts = append(b.Facts, fact{Label: "Note", Value: r.GetNote()})
	}
	for _, e := range r.GetExplanations() {
		x := entry{Text: e.GetSentence()}
		if e.GetVerdict() != schedulev1.Verdict_VERDICT_UNSPECIFIED {
			x.Sub = "Decision: " + word(e.GetVerdict(), "VERDICT_")
		}
		b.List = append(b.List, x)
	}
	v.formPage(status, "Settle a reading", f, b)
}

func (v *visit) settle() {
	if !v.readForm() {
		return
	}
	r, err := v.reading()
	if err != nil {
		v.refuse(err)
		return
	}
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	s := &schedulev1.Settlement{Corrected: t.dial("settlement.corrected", x.GetPace().GetUnit()), Reason: v.value("settlement.reason"),
		Verdict: schedulev1.Verdict(schedulev1.Verdict_value["VERDICT_"+v.value("settlement.verdict")])}
	if err = t.err(); err == nil {
		_, err = v.d.Schedules.SettleReading(v.as(), &schedulev1.SettleReadingRequest{Name: r.GetName(), Settlement: s, Etag: v.value("etag"), RequestId: v.request()})
	}
	if err != nil {
		f := v.settleForm(r).filled(v)
		v.again(err, f, func(status int) { v.settlePage(status, r, f) })
		return
	}
	v.goTo(v.at("?done=settled"))
}

// showService asks which items were done where the address names none.
func (v *visit) showService() {
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	items := v.r.URL.Query()["item"]
	if len(items) == 0 {
		f := &form{ID: "items", Get: true, Action: v.at("/service"), Submit: "Go on"}
		for _, i := range x.GetItems() {
			if i.GetItem().GetOwnerCheck() {
				continue
			}
			one := field{Name: "item", Type: "checkbox", Value: i.GetItemId(), Label: i.GetItemId() + " " + i.GetTitle() + mentioned(stateMark(i.GetState()))}
			f.Fields = append(f.Fields, one)
		}
		v.formPage(http.StatusOK, "Which items were done?", f)
		return
	}
	v.servicePage(http.StatusOK, v.serviceForm(x, items))
}

func mentioned(mark string) string {
	if mark == "" {
		return ""
	}
	return " (" + mark + ")"
}

func (v *visit) servicePage(status int, f *form) {
	v.formPage(status, "Record work", f)
}

// serviceForm asks what came back for each item: the values it measures, and the
// shims where its joint is set with them.
func (v *visit) serviceForm(x *schedulev1.Schedule, items []string) *form {
	f := &form{ID: "service", Action: v.at("/service"), Submit: "Record the work", Fields: []field{
		{Name: "service_entry.service_date", Label: "Done on", Type: "date", Hint: "Left empty, it is today."},
		{Name: "service_entry.reading", Label: "What the odometer showed", Type: "text", Inputmode: "decimal", Autocomplete: "off"},
		{Name: "service_entry.done_by", Label: "Who did it", Type: "text", Autocomplete: "off"},
	}}
	for _, id := range items {
		i := itemOf(x, id)
		f.Fields = append(f.Fields, field{Name: "item", Type: "hidden", Value: id})
		heading := strings.TrimSpace(id + " " + i.GetTitle())
		for n, m := range i.GetItem().GetMeasured() {
			one := field{Name: fmt.Sprintf("%s.measured.%d", id, n), Label: id + ": " + place(m.GetCharacteristic()), Type: "text", Inputmode: "decimal", Autocomplete: "off",
				Hint: strings.TrimSpace("In " + m.GetUnit() + ", wanted " + windowText(m)), Legend: heading}
			heading = ""
			f.Fields = append(f.Fields, one)
			if strings.Contains(m.GetCharacteristic(), "float") || m.GetCharacteristic() == "preload" {
				f.Fields = append(f.Fields,
					field{Name: fmt.Sprintf("%s.before.%d", id, n), Label: id + ": " + place(m.GetCharacteristic()) + " before the shims were changed", Type: "text", Autocomplete: "off", Hint: "Only where shims were changed."},
					field{Name: fmt.Sprintf("%s.shims.%d", id, n), Label: id + ": shims that are in now", Type: "text", Autocomplete: "off", Hint: "As in 2 x 0.25 mm + 0.13 mm. The value above is then the one with them."})
			}
		}
		f.Fields = append(f.Fields, field{Name: id + ".note", Label: id + ": what was found", Type: "text", Autocomplete: "off", Legend: heading})
	}
	f.Fields = append(f.Fields,
		field{Name: "parts", Label: "Parts used", Lines: 3, Hint: "One a line: AP-2041, or 2 AP-2041."},
		field{Name: "service_entry.note", Label: "Note", Lines: 3}, requestField())
	return f
}

func itemOf(x *schedulev1.Schedule, id string) *schedulev1.ItemStatus {
	for _, i := range x.GetItems() {
		if i.GetItemId() == id {
			return i
		}
	}
	return nil
}

func (v *visit) recordService() {
	if !v.readForm() {
		return
	}
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	items := v.r.PostForm["item"]
	t := &typed{visit: v}
	e := t.service(x, items)
	made := &schedulev1.ServiceEntry{}
	if err = t.err(); err == nil {
		made, err = v.d.Schedules.RecordService(v.as(), &schedulev1.RecordServiceRequest{Parent: v.vehicle(), ServiceEntry: e, RequestId: v.request()})
	}
	if err != nil {
		f := v.serviceForm(x, items)
		chosen := f.Fields
		f.filled(v)
		n := 0
		for i := range chosen {
			if chosen[i].Name == "item" {
				chosen[i].Value = items[n]
				n++
			}
		}
		v.again(err, f, func(status int) { v.servicePage(status, f) })
		return
	}
	v.goTo(v.at("/service/" + bare(made.GetName()) + "?done=service"))
}

// service reads the form of work done.
func (t *typed) service(x *schedulev1.Schedule, items []string) *schedulev1.ServiceEntry {
	e := &schedulev1.ServiceEntry{ServiceDate: t.date("service_entry.service_date"), Reading: t.dial("service_entry.reading", x.GetPace().GetUnit()),
		DoneBy: t.value("service_entry.done_by"), Note: t.value("service_entry.note")}
	for _, id := range items {
		done := &schedulev1.ItemDone{ItemId: id, Note: t.value(id + ".note")}
		i := itemOf(x, id)
		for n, m := range i.GetItem().GetMeasured() {
			value := t.quantity(fmt.Sprintf("%s.measured.%d", id, n), m.GetUnit())
			if work := t.shims(id, n, m); work != nil {
				work.Position, work.MeasuredAfter = i.GetItem().GetPosition(), value
				done.Shims = append(done.Shims, work)
			} else if value != nil {
				done.Measured = append(done.Measured, &schedulev1.MeasuredValue{Characteristic: m.GetCharacteristic(), Position: i.GetItem().GetPosition(), Value: value})
			}
		}
		e.Items = append(e.Items, done)
	}
	for line := range strings.FieldsFuncSeq(t.value("parts"), func(r rune) bool { return r == '\n' || r == '\r' }) {
		used := &schedulev1.PartUsed{Quantity: 1, Part: strings.TrimSpace(line)}
		if n, number, ok := strings.Cut(used.Part, " "); ok {
			if _, err := fmt.Sscanf(n, "%d", &used.Quantity); err != nil || used.Quantity < 1 {
				t.wrong = append(t.wrong, fault.Field{Name: "parts", Got: line, Want: "a part number a line, with how many in front, as in 2 AP-2041"})
			}
			used.Part = strings.TrimSpace(number)
		}
		if used.Part != "" {
			e.Parts = append(e.Parts, used)
		}
	}
	return e
}

// shims reads a change of a pack; nil where there was none.
func (t *typed) shims(id string, n int, m *schedulev1.MeasuredLimit) *schedulev1.ShimWork {
	name := fmt.Sprintf("%s.shims.%d", id, n)
	if t.value(name) == "" {
		return nil
	}
	all, err := vehicle.ParseCounted(t.value(name))
	if err != nil {
		t.wrong = append(t.wrong, fault.Field{Name: name, Got: t.value(name), Want: "sizes with how many of each, as in 2 x 0.25 mm + 0.13 mm"})
		return nil
	}
	work := &schedulev1.ShimWork{Characteristic: m.GetCharacteristic(), MeasuredBefore: t.quantity(fmt.Sprintf("%s.before.%d", id, n), m.GetUnit())}
	for _, one := range all {
		work.Shims = append(work.Shims, shimUsed(one))
	}
	return work
}
