package ownerpages

import (
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/locale"
	"halfshaft/services/vehicle"
)

// Programme says what the service programme says in another language.
type Programme interface {
	// Item says a field of an item ("title", "why", "caution"), of which text
	// is what the programme has.
	Item(language, item, field, text string) string
	// Reason says why an item is due in the reader's language and unit;
	// sentence is what the schedule says in English.
	Reason(habit locale.Locale, title string, reasons []vehicle.Reason, sentence string) string
}

// title is the title of an item in the reader's language.
func (v *visit) title(item, text string) string { return v.item(item, "title", text) }

func (v *visit) item(item, field, text string) string {
	if v.Programme == nil || text == "" {
		return text
	}
	return v.Programme.Item(v.words.Tag(), item, field, text)
}

// why says why an item is due.
func (v *visit) why(m *schedulev1.ItemStatus) string {
	if v.Programme == nil {
		return m.GetSentence()
	}
	return v.Programme.Reason(v.habit, v.title(m.GetItemId(), m.GetTitle()), reasonsOf(m.GetReasons()), m.GetSentence())
}

func reasonsOf(all []*vehiclev1.Reason) []vehicle.Reason {
	var reasons []vehicle.Reason
	for _, m := range all {
		r := vehicle.Reason{Rule: m.GetRule(), Record: m.GetRecord(), Sentence: m.GetSentence()}
		for _, f := range m.GetFacts() {
			r.Facts = append(r.Facts, vehicle.Fact{Name: f.GetName(), Value: f.GetValue()})
		}
		reasons = append(reasons, r)
	}
	return reasons
}
