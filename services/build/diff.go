package build

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Diff gives every field in which two records of one vehicle differ, as text
// for people, in the order of the record. Entries of lists are named by what
// they are about, "components[transfer-case].lot", so that one taken out does
// not make all after it look changed. When a record was made is not compared.
func Diff(before, after *Record) []AmendedField {
	was, is := flatten(before), flatten(after)
	var fields []AmendedField
	for _, path := range is.merged(was) {
		if b, a := was.text[path], is.text[path]; b != a {
			fields = append(fields, AmendedField{path, b, a})
		}
	}
	return fields
}

// flat is a record as text, field by field.
type flat struct {
	paths []string
	text  map[string]string
}

func (f *flat) put(path, text string) {
	if text == "" {
		return
	}
	f.paths = append(f.paths, path)
	f.text[path] = text
}

// entry gives the path of a list's entry by what it is about; a second one
// about the same thing is numbered.
func (f *flat) entry(list, about string) string {
	path := fmt.Sprintf("%s[%s]", list, about)
	for n := 2; ; n++ {
		if _, taken := f.text[path]; !taken {
			break
		}
		path = fmt.Sprintf("%s[%s #%d]", list, about, n)
	}
	return path
}

// merged is all paths: those of f, and each that only other has after the one
// that stands before it there.
func (f *flat) merged(other *flat) []string {
	paths := slices.Clone(f.paths)
	for i, path := range other.paths {
		if _, ok := f.text[path]; ok {
			continue
		}
		place := 0
		if i > 0 {
			place = slices.Index(paths, other.paths[i-1]) + 1
		}
		paths = slices.Insert(paths, place, path)
	}
	return paths
}

func flatten(r *Record) *flat {
	f := &flat{text: map[string]string{}}
	f.put("frame_number", r.FrameNumber)
	f.put("release", r.Release)
	f.put("options", strings.Join(r.Options, ", "))
	f.put("wheelbase", r.Wheelbase)
	f.put("market", r.Market)
	f.put("donor_year", number(r.DonorYear))
	f.components(r)
	f.measurements(r)
	f.fluids(r)
	f.put("tyre.size", r.Tyre.Size)
	f.put("tyre.pattern", r.Tyre.Pattern)
	f.put("tyre.circumference_mm", number(r.Tyre.Measured))
	if r.Drive.AxleRatio.Sign() != 0 {
		f.put("axle_ratio", r.Drive.AxleRatio.String())
	}
	f.put("speedometer_drive.driver_teeth", number(r.Drive.DriverTeeth))
	f.put("speedometer_drive.driven_teeth", number(r.Drive.DrivenTeeth))
	f.put("dial.digits", number(r.Dial.Digits))
	f.put("dial.unit", string(r.Dial.Unit))
	f.put("dial.turns_per_unit", number(r.Dial.TurnsPerUnit))
	if r.Dial.Tenths {
		f.put("dial.tenths", "yes")
	}
	f.put("delivery_reading", r.DeliveryReading.String())
	f.put("finish", r.Finish.String())
	f.put("finish_note", r.FinishNote)
	f.deviations(r)
	f.roadTest(r)
	f.put("key_numbers", strings.Join(r.KeyNumbers, ", "))
	f.put("plate", r.Plate)
	f.put("build_date", r.Built.String())
	f.put("delivery_date", r.Delivered.String())
	return f
}

// number is a count for print; 0 is not set.
func number(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func (f *flat) components(r *Record) {
	for _, u := range r.Components {
		path := f.entry("components", u.Position)
		f.put(path, "listed")
		f.put(path+".part", u.Part)
		f.put(path+".serial", u.Serial)
		f.put(path+".lot", u.Lot)
		f.put(path+".fitted_date", u.Fitted.String())
		f.put(path+".prior_distance", u.Prior.String())
		f.put(path+".bedding_in_date", u.BeddingIn.String())
		f.put(path+".traits", strings.Join(u.Traits, ", "))
		f.put(path+".note", u.Note)
	}
}

func (f *flat) measurements(r *Record) {
	for _, m := range r.Measurements {
		path := f.entry("measurements", m.Position+" "+m.Characteristic)
		f.put(path, m.Value.String())
		f.put(path+".measured_date", m.Measured.String())
		f.put(path+".measured_by", m.MeasuredBy)
		f.put(path+".instrument", m.Instrument)
	}
}

func (f *flat) fluids(r *Record) {
	for _, l := range r.Fluids {
		path := f.entry("fluids", l.Position)
		f.put(path, l.Fluid)
		if l.Quantity.Unit != "" {
			f.put(path+".quantity", l.Quantity.String())
		}
		f.put(path+".batch", l.Batch)
	}
}

func (f *flat) deviations(r *Record) {
	for _, d := range r.Deviations {
		path := f.entry("deviations", d.ID)
		f.put(path, d.Text)
		f.put(path+".position", d.Position)
		f.put(path+".approved_by", d.ApprovedBy)
		f.put(path+".approved_date", d.Approved.String())
	}
}

func (f *flat) roadTest(r *Record) {
	for _, l := range r.RoadTest {
		path := f.entry("road_test", l.Tested.String())
		f.put(path, "driven")
		f.put(path+".reading", l.Reading.String())
		f.put(path+".text", l.Text)
		f.put(path+".driver", l.Driver)
	}
}
