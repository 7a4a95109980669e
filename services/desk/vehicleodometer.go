package desk

import (
	"cmp"
	"net/http"
	"strconv"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
)

// odometerWays say where another odometer is recorded, for a reading that may be
// of one.
func (v *visit) odometerWays() block {
	if v.engineer() {
		return block{Links: []link{{Label: "Record another odometer", Path: v.at("/odometer")}}}
	}
	return block{Text: []string{"Another odometer is recorded by an engineer, or comes back with the job sheet of the work: ask on which day it was fitted, what the old one showed and what the new one showed. The reading waits until then."}}
}

// odometerForm asks what the old instrument showed and what the new one is; it
// begins with the kind that is there, which most are replaced by.
func (v *visit) odometerForm(was *vehiclev1.Dial) *form {
	number := func(n int32) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(int(n))
	}
	units := []option{{Value: "mi", Label: "miles", Chosen: was.GetUnit() != "km"}, {Value: "km", Label: "kilometres", Chosen: was.GetUnit() == "km"}}
	return &form{ID: "odometer", Action: v.at("/odometer"), Submit: "Record the other odometer", Fields: []field{
		{Name: "change.change_date", Label: "Fitted on", Type: "date", Required: true},
		{Name: "change.reading", Label: "What the old one showed", Type: "text", Inputmode: "decimal", Autocomplete: "off", Hint: "On that day, in the unit of its dial; another is said behind it, as in 66350 km."},
		{Name: "change.dial_start", Label: "What the new one showed when it was fitted", Type: "text", Inputmode: "decimal", Required: true, Autocomplete: "off", Legend: "The new one"},
		{Name: "change.dial.unit", Label: "It counts", Options: units},
		{Name: "change.dial.digits", Label: "Digits, without tenths", Type: "text", Inputmode: "numeric", Value: number(was.GetDigits()), Autocomplete: "off"},
		{Name: "change.dial.turns_per_unit", Label: "Turns of the cable for one mile or kilometre", Type: "text", Inputmode: "numeric", Value: number(was.GetTurnsPerUnit()), Autocomplete: "off", Hint: "As printed on its face."},
		{Name: "change.dial.tenths", Label: "A further wheel shows tenths", Type: "checkbox", Checked: was.GetTenths()},
		{Name: "change.source", Label: "Fitted by", Options: []option{{Value: "SERVICE", Label: "a workshop"}, {Value: "WORKS", Label: "the works"}, {Value: "OWNER", Label: "its owner"}}},
		{Name: "change.reason", Label: "Why, without names", Type: "text", Autocomplete: "off", Hint: "As in the old one had stopped."}, requestField(),
	}}
}

// dialNow is the odometer that the vehicle has as far as is known.
func (v *visit) dialNow() (*vehiclev1.Dial, error) {
	c, err := v.d.Builds.GetConfiguration(v.as(), &buildv1.GetConfigurationRequest{Name: "builds/" + v.r.PathValue("serial")})
	return c.GetDial(), err
}

func (v *visit) showOdometer() {
	was, err := v.dialNow()
	if err != nil {
		v.refuse(err)
		return
	}
	v.odometerPage(http.StatusOK, v.odometerForm(was))
}

func (v *visit) odometerPage(status int, f *form) {
	v.formPage(status, "Another odometer", f, block{Text: []string{
		"What it read before stays as it was read; from the day on, the new one is counted from what it showed. Readings in doubt that it explains then count by themselves."}})
}

func (v *visit) recordOdometer() {
	if !v.readForm() {
		return
	}
	was, err := v.dialNow()
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	unit := cmp.Or(t.value("change.dial.unit"), "mi")
	c := &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_DIAL, ChangeDate: t.date("change.change_date"),
		Source:  buildv1.ChangeSource(buildv1.ChangeSource_value["CHANGE_SOURCE_"+t.value("change.source")]),
		Reading: t.dial("change.reading", was.GetUnit()), DialStart: t.dial("change.dial_start", unit), Reason: t.value("change.reason"),
		Dial: &vehiclev1.Dial{Unit: unit, Digits: t.whole("change.dial.digits"), TurnsPerUnit: t.whole("change.dial.turns_per_unit"), Tenths: t.value("change.dial.tenths") != ""},
	}
	if t.value("change.dial_start") == "" { // without it the service would count from nought
		t.wrong = append(t.wrong, fault.Field{Name: "change.dial_start", Want: "what it showed when it was fitted; 0 where it was new"})
	}
	if err = t.err(); err == nil {
		_, err = v.d.Builds.RecordChange(v.as(), &buildv1.RecordChangeRequest{Parent: "builds/" + v.r.PathValue("serial"), Change: c, RequestId: v.request()})
	}
	if err != nil {
		f := v.odometerForm(was).filled(v)
		v.again(err, f, func(status int) { v.odometerPage(status, f) })
		return
	}
	v.goTo(v.at("?done=odometer"))
}
