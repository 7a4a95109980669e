package desk

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

// work is the form in which work that was done is recorded.
type work struct {
	*visit
	schedule *schedulev1.Schedule
	series   []*schedulev1.MeasuredSeries
	items    []string          // identifiers of those that were done
	odd      map[string]string // what has to be confirmed, by the key of its measure
}

// workOf asks what the form needs to know.
func (v *visit) workOf(items []string) (*work, error) {
	x, err := v.schedule()
	if err != nil {
		return nil, err
	}
	series, err := v.d.Schedules.ListMeasuredSeries(v.as(), &schedulev1.ListMeasuredSeriesRequest{Parent: v.vehicle(), PageSize: 500})
	if err != nil {
		return nil, err
	}
	return &work{visit: v, schedule: x, series: series.GetMeasuredSeries(), items: items, odd: map[string]string{}}, nil
}

// showService asks which items were done where the address names none.
func (v *visit) showService() {
	w, err := v.workOf(v.r.URL.Query()["item"])
	if err != nil {
		v.refuse(err)
		return
	}
	if len(w.items) == 0 {
		f := w.itemsForm()
		if len(f.Fields) == 0 {
			v.formPage(http.StatusOK, "Record work", nil, block{Text: []string{"The programme in force has no items for this vehicle, so there is no work to record."}})
			return
		}
		v.formPage(http.StatusOK, "Which items were done?", f)
		return
	}
	w.page(http.StatusOK, w.form())
}

// itemsForm offers the items of the programme under their groups.
func (w *work) itemsForm() *form {
	f := &form{ID: "items", Get: true, Action: w.at("/service"), Submit: "Go on"}
	all, group := slices.Clone(w.schedule.GetItems()), ""
	slices.SortStableFunc(all, func(a, b *schedulev1.ItemStatus) int {
		return cmp.Compare(a.GetItem().GetGroup(), b.GetItem().GetGroup())
	})
	for _, i := range all {
		if i.GetItem().GetOwnerCheck() {
			continue
		}
		one := field{Name: "item", Type: "checkbox", Value: i.GetItemId(), Label: i.GetItemId() + " " + i.GetTitle() + mentioned(stateMark(i.GetState()))}
		if g := i.GetItem().GetGroup(); g != group {
			one.Legend, group = wording.UpperFirst(place(g)), g
		}
		f.Fields = append(f.Fields, one)
	}
	return f
}

func mentioned(mark string) string {
	if mark == "" {
		return ""
	}
	return " (" + mark + ")"
}

func (w *work) page(status int, f *form) { w.formPage(status, "Record work", f) }

// form asks what came back for each item: the values it measures, the shims
// where its joint is set with them, and why a value stands that is odd.
func (w *work) form() *form {
	f := &form{ID: "service", Action: w.at("/service"), Submit: "Record the work", Fields: []field{
		{Name: "service_entry.service_date", Label: "Done on", Type: "date", Hint: "Left empty, it is today."},
		{Name: "service_entry.reading", Label: "What the odometer showed", Type: "text", Inputmode: "decimal", Autocomplete: "off"},
		{Name: "service_entry.done_by", Label: "Who did it", Type: "text", Autocomplete: "off"},
	}}
	for _, id := range w.items {
		i := itemOf(w.schedule, id)
		fields := []field{{Name: "item", Type: "hidden", Value: id}}
		for _, m := range measures(i, w.series) {
			fields = append(fields, m.fields()...)
			if w.odd[m.key] != "" || w.value(m.key+".confirm") != "" {
				fields = append(fields, m.confirmFields()...)
			}
		}
		fields = append(fields, field{Name: id + ".note", Label: id + ": what was found", Type: "text", Autocomplete: "off"})
		fields[1].Legend = strings.TrimSpace(id + " " + i.GetTitle())
		f.Fields = append(f.Fields, fields...)
	}
	f.Fields = append(f.Fields,
		field{Name: "parts", Label: "Parts used", Lines: 3, Hint: "One a line: AP-2041, or 2 AP-2041.", Legend: "All of it"},
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
	w, err := v.workOf(v.r.PostForm["item"])
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	e, err := w.entry(t)
	if err == nil {
		err = t.err()
	}
	made := &schedulev1.ServiceEntry{}
	if err == nil && len(w.odd) == 0 {
		made, err = v.d.Schedules.RecordService(v.as(), &schedulev1.RecordServiceRequest{Parent: v.vehicle(), ServiceEntry: e, RequestId: v.request()})
	}
	if err != nil || len(w.odd) > 0 {
		w.again(err)
		return
	}
	v.goTo(v.at("/service/" + bare(made.GetName()) + "?done=service"))
}

// again shows the form with what is wrong and what has to be confirmed.
func (w *work) again(err error) {
	f := w.form()
	f.filled(w.visit)
	n := 0
	for i := range f.Fields {
		if f.Fields[i].Name == "item" {
			f.Fields[i].Value = w.items[n]
			n++
		}
		if key, ok := strings.CutSuffix(f.Fields[i].Name, seen); ok {
			f.Fields[i].Value = w.value(key + ".value")
		}
	}
	for key, why := range w.odd {
		f.field(key + ".value").Error = why
	}
	if err == nil {
		f.Error = "Nothing was recorded yet: a value below is odd and has to be confirmed."
		w.page(http.StatusUnprocessableEntity, f)
		return
	}
	w.visit.again(err, f, func(status int) { w.page(status, f) })
}

// entry reads the form of work done, and has each value judged.
func (w *work) entry(t *typed) (*schedulev1.ServiceEntry, error) {
	e := &schedulev1.ServiceEntry{ServiceDate: t.date("service_entry.service_date"), Reading: t.dial("service_entry.reading", w.schedule.GetPace().GetUnit()),
		DoneBy: t.value("service_entry.done_by"), Note: t.value("service_entry.note"), Parts: t.partsUsed()}
	for _, id := range w.items {
		done := &schedulev1.ItemDone{ItemId: id, Note: t.value(id + ".note")}
		for _, m := range measures(itemOf(w.schedule, id), w.series) {
			value := m.onto(t, done)
			if value == nil {
				continue
			}
			why, err := w.oddity(&m, value, e)
			if err != nil {
				return nil, err
			}
			switch said := m.confirmed(w.visit); {
			case why == "":
			case said == "":
				w.odd[m.key] = why
			default: // whoever reads the value reads why it stands
				done.Note = strings.TrimSpace(done.Note + "\nConfirmed, " + strings.TrimPrefix(m.label(), id+": ") + ": " + said)
			}
		}
		e.Items = append(e.Items, done)
	}
	return e, nil
}

// oddity is why a value has to be confirmed: it is outside its limits, or differs
// from the last as nothing explains. "" for nothing odd.
func (w *work) oddity(m *measure, value *schedulev1.MeasuredValue, e *schedulev1.ServiceEntry) (string, error) {
	j, err := w.d.Schedules.JudgeMeasurement(w.as(), &schedulev1.JudgeMeasurementRequest{
		Parent: w.vehicle(), Value: value.GetValue(), Position: value.GetPosition(), Characteristic: value.GetCharacteristic(),
		ItemId: m.item.GetItemId(), MeasuredDate: e.GetServiceDate(),
	})
	switch {
	case unlessShort(err) != nil:
		return "", err
	case err != nil: // what is wrong with it is said when it is recorded
		return "", nil
	case j.GetVerdict() > schedulev1.MeasuredVerdict_MEASURED_VERDICT_WITHIN:
		return "Outside limits, confirm: " + reasonOf(j, 0), nil
	case j.GetImplausible():
		return "Unlike the last, confirm: " + reasonOf(j, 1), nil
	}
	return "", nil
}

// reasonOf is one of the reasons of a judgement, in their order.
func reasonOf(j *schedulev1.MeasurementJudgement, n int) string {
	if n < len(j.GetReasons()) {
		return j.GetReasons()[n].GetSentence()
	}
	return "measure again before anything else."
}

// partsUsed reads parts, one a line.
func (t *typed) partsUsed() (parts []*schedulev1.PartUsed) {
	for line := range strings.FieldsFuncSeq(t.value("parts"), func(r rune) bool { return r == '\n' || r == '\r' }) {
		used := &schedulev1.PartUsed{Quantity: 1, Part: strings.TrimSpace(line)}
		if n, number, ok := strings.Cut(used.Part, " "); ok {
			if _, err := fmt.Sscanf(n, "%d", &used.Quantity); err != nil || used.Quantity < 1 {
				t.wrong = append(t.wrong, fault.Field{Name: "parts", Got: line, Want: "a part number a line, with how many in front, as in 2 AP-2041"})
			}
			used.Part = strings.TrimSpace(number)
		}
		if used.Part != "" {
			parts = append(parts, used)
		}
	}
	return parts
}
