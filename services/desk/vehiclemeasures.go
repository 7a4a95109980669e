package desk

import (
	"fmt"
	"slices"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// measure is one value that the work on an item asks for: a limit of the item at
// one of its places.
type measure struct {
	item     *schedulev1.ItemStatus
	limit    *schedulev1.MeasuredLimit
	position string // where; that of the item unless it has several places
	several  bool
	last     *schedulev1.SeriesValue // nil for none
	key      string                  // begins the names of its fields
}

// measures are what is measured for an item: at each place where it was ever
// measured, or once.
func measures(i *schedulev1.ItemStatus, series []*schedulev1.MeasuredSeries) (all []measure) {
	at := i.GetItem().GetPosition()
	for n, l := range i.GetItem().GetMeasured() {
		key := fmt.Sprintf("%s.%d", i.GetItemId(), n)
		var places []measure
		for _, s := range series {
			if s.GetCharacteristic() != l.GetCharacteristic() || s.GetPosition() != at && (at == "" || !strings.HasPrefix(s.GetPosition(), at+"-")) {
				continue
			}
			one := measure{item: i, limit: l, position: s.GetPosition(), several: s.GetPosition() != at, key: key}
			if one.several {
				one.key += "." + s.GetPosition()
			}
			if values := s.GetValues(); len(values) > 0 {
				one.last = values[len(values)-1]
			}
			places = append(places, one)
		}
		if len(places) > 1 { // measured somewhere in general once, and since at its places
			places = slices.DeleteFunc(places, func(m measure) bool { return !m.several })
		}
		if len(places) == 0 {
			places = []measure{{item: i, limit: l, position: at, key: key}}
		}
		all = append(all, places...)
	}
	return all
}

// label begins the labels of its fields.
func (m *measure) label() string {
	text := m.item.GetItemId() + ": " + place(m.limit.GetCharacteristic())
	if m.several {
		text += ", " + place(m.position)
	}
	return text
}

// shimmed reports whether it is set with shims.
func (m *measure) shimmed() bool {
	return strings.Contains(m.limit.GetCharacteristic(), "float") || m.limit.GetCharacteristic() == "preload"
}

// fields ask for the value and, where its joint is set with shims, for the pack.
func (m *measure) fields() []field {
	hint := "In " + m.limit.GetUnit()
	if w := windowText(m.limit); w != "" {
		hint += "; wanted is " + w
	}
	if m.last != nil {
		hint += "; last " + quantity(m.last.GetValue()) + " on " + civil(m.last.GetMeasuredDate())
	}
	out := []field{{Name: m.key + ".value", Label: m.label(), Type: "text", Inputmode: "decimal", Autocomplete: "off", Hint: hint + "."}}
	if !m.shimmed() {
		return out
	}
	return append(out,
		field{Name: m.key + ".before", Label: m.label() + " before the shims were changed", Type: "text", Inputmode: "decimal", Autocomplete: "off", Hint: "Only where shims were changed. The value above is then the one with the new pack."},
		field{Name: m.key + ".pack", Label: m.label() + ", thickness of the old pack", Type: "text", Autocomplete: "off", Hint: "As measured; empty where nobody did."},
		field{Name: m.key + ".shims", Label: m.label() + ", shims that are in now", Type: "text", Autocomplete: "off", Hint: "As in 2 x 0.25 mm + 0.13 mm."})
}

// confirmFields ask why a value that is odd stands. With the reason goes the
// value that it is shown with: only that is confirmed.
func (m *measure) confirmFields() []field {
	return []field{
		{Name: m.key + ".confirm", Label: m.label() + ", why it stands and what is done about it", Type: "text", Autocomplete: "off", Hint: "Left empty, nothing is recorded; a slip of the pen is put right above."},
		{Name: m.key + seen, Type: "hidden"},
	}
}

// seen ends the name of the hidden field with the value that was shown.
const seen = ".seen"

// confirmed is why an odd value stands; "" where nothing was said of the value
// that is there now.
func (m *measure) confirmed(v *visit) string {
	if v.value(m.key+seen) != v.value(m.key+".value") {
		return ""
	}
	return v.value(m.key + ".confirm")
}

// onto reads what was entered and puts it onto the work done. It gives the value
// to be judged, nil for none.
func (m *measure) onto(t *typed, done *schedulev1.ItemDone) *schedulev1.MeasuredValue {
	value := t.quantity(m.key+".value", m.limit.GetUnit())
	if work := t.shims(m); work != nil {
		work.MeasuredAfter = value
		done.Shims = append(done.Shims, work)
	} else if value != nil {
		done.Measured = append(done.Measured, &schedulev1.MeasuredValue{Characteristic: m.limit.GetCharacteristic(), Position: m.position, Value: value})
	}
	if value == nil {
		return nil
	}
	return &schedulev1.MeasuredValue{Characteristic: m.limit.GetCharacteristic(), Position: m.position, Value: value}
}

// shims reads a change of a pack; nil where there was none.
func (t *typed) shims(m *measure) *schedulev1.ShimWork {
	name := m.key + ".shims"
	before, pack := t.quantity(m.key+".before", m.limit.GetUnit()), t.quantity(m.key+".pack", "mm")
	if t.value(name) == "" {
		if before != nil || pack != nil {
			t.wrong = append(t.wrong, fault.Field{Name: name, Got: "", Want: "the shims that are in now, as something is said of those before"})
		}
		return nil
	}
	all, err := vehicle.ParseCounted(t.value(name))
	if err != nil {
		t.wrong = append(t.wrong, fault.Field{Name: name, Got: t.value(name), Want: "sizes with how many of each, as in 2 x 0.25 mm + 0.13 mm"})
		return nil
	}
	work := &schedulev1.ShimWork{Characteristic: m.limit.GetCharacteristic(), Position: m.position, MeasuredBefore: before, PackBefore: pack}
	for _, one := range all {
		work.Shims = append(work.Shims, shimUsed(one))
	}
	return work
}
