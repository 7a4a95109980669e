package build

import (
	"strconv"
	"strings"

	"halfshaft/services/drivetrain"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// The most that one record has.
const (
	maxComponents   = 100 // so that all their serials are claimed in one transaction
	maxMeasurements = 400
	maxEntries      = 200 // of any other list
)

// CheckRecord gives everything that is wrong with a record, by the paths of
// its fields in the API; nothing when it may stand. Whether its components
// stand on another vehicle is for Conflicts to say. With no set at all the
// record is checked by itself, apart from what depends on its release.
func CheckRecord(rec *Record, releases ReleaseSet) []fault.Field {
	var c checker
	if !rec.Serial.Valid() {
		c.refuse("name", Name(rec.Serial), "builds/ and a serial with its check character, as in builds/AM0147P")
	}
	base := releases[rec.Release]
	switch {
	case base != nil:
		c.ordered("options", rec.Options, base)
	case releases != nil || rec.Release == "":
		c.refuse("release", ReleaseName(rec.Release), "a release that exists")
	}
	c.recordWords(rec)
	c.recordDates(rec)
	c.components(rec, base)
	c.measurements(rec, base)
	c.fluids(rec, base)
	c.deviations(rec)
	c.roadTest(rec)
	if base != nil {
		c.recordDrive(rec, releases)
	}
	return c.wrong
}

// ordered wants options of the release that go together.
func (c *checker) ordered(list string, ids []string, r *Release) {
	c.unique(list, ids)
	chosen := map[string]bool{}
	for _, id := range ids {
		chosen[id] = true
	}
	for i, id := range ids {
		o := r.Option(id)
		if o == nil {
			c.refuse(index(list, i), id, "an option of release "+r.ID)
			continue
		}
		c.goesWith(index(list, i), o, chosen)
	}
}

// goesWith wants an option's needs met and what it rules out left off.
func (c *checker) goesWith(name string, o *Option, chosen map[string]bool) {
	for _, id := range o.Requires {
		if !chosen[id] {
			c.refuse(name, o.ID, "the option "+id+" with it, which it needs")
		}
	}
	for _, id := range o.Excludes {
		if chosen[id] {
			c.refuse(name, o.ID, "no option "+id+" beside it, which it rules out")
		}
	}
}

func (c *checker) recordWords(rec *Record) {
	for _, t := range []struct{ name, text string }{
		{"frame_number", rec.FrameNumber}, {"wheelbase", rec.Wheelbase}, {"market", rec.Market}, {"plate", rec.Plate},
	} {
		c.line(t.name, t.text)
	}
	c.prose("finish_note", rec.FinishNote)
	c.many("key_numbers", len(rec.KeyNumbers), maxEntries)
	for i, k := range rec.KeyNumbers {
		c.need(index("key_numbers", i), k, "a key number")
	}
	if rec.Finish < FinishUnspecified || rec.Finish > FinishRefinished {
		c.refuse("finish", strconv.Itoa(int(rec.Finish)), "one of the finishes")
	}
	const oldest = 1900
	if y := rec.DonorYear; y != 0 && (y < oldest || !rec.Built.IsZero() && y > rec.Built.Year) {
		c.refuse("donor_year", strconv.Itoa(y), "a year from 1900 to the year of the build, or 0 when not known")
	}
}

func (c *checker) recordDates(rec *Record) {
	if rec.Built.IsZero() {
		c.refuse("build_date", "", "the day the build was finished")
	}
	if !rec.Delivered.IsZero() && rec.Delivered.Before(rec.Built) {
		c.refuse("delivery_date", rec.Delivered.String(), "the build date, "+rec.Built.String()+", or later")
	}
}

// known says whether the specification, or an approved deviation, gives the
// record a position.
func (rec *Record) known(position string, base *Release) bool {
	if base == nil || base.Knows(position) {
		return true // without a release, that alone is refused
	}
	for _, d := range rec.Deviations {
		if d.Position == position {
			return true
		}
	}
	return false
}

func (c *checker) position(name, position string, rec *Record, base *Release) {
	if !isWord(position) {
		c.refuse(name, position, wordForm)
	} else if !rec.known(position, base) {
		c.refuse(name, position, "a position of release "+base.ID+", of its options, or of an approved deviation")
	}
}

func (c *checker) components(rec *Record, base *Release) {
	c.many("components", len(rec.Components), maxComponents)
	positions, serials := map[string]bool{}, map[string]string{}
	for i := range rec.Components {
		u := &rec.Components[i]
		c.position(fieldOf("components", i, "position"), u.Position, rec, base)
		if positions[u.Position] {
			c.refuse(fieldOf("components", i, "position"), u.Position, "each position once")
		}
		positions[u.Position] = true
		if s := Fold(u.Serial); s != "" {
			if other := serials[s]; other != "" {
				c.refuse(fieldOf("components", i, "serial"), u.Serial, "a unit that is not also at "+other)
			}
			serials[s] = u.Position
		}
		c.unit(index("components", i), u)
		c.notAfter(fieldOf("components", i, "fitted_date"), u.Fitted, rec.Delivered, "the delivery date")
		c.notAfter(fieldOf("components", i, "bedding_in_date"), u.BeddingIn, rec.Delivered, "the delivery date")
		if u.Part == "" && base != nil && calledAtBuild(rec, base, u.Position).fitment == nil {
			c.refuse(fieldOf("components", i, "part"), "", "a part number: release and options give none here")
		}
	}
}

// calledAtBuild is what the release and the record's options call for.
func calledAtBuild(rec *Record, base *Release, position string) called {
	r := replay{base: base}
	r.takeOptions(rec.Options)
	return r.call(position)
}

// unit wants a component that reads well by itself.
func (c *checker) unit(path string, u *Component) {
	c.number(path+".part", u.Part)
	c.number(path+".serial", u.Serial)
	if u.Serial != "" && Fold(u.Serial) == "" {
		c.refuse(path+".serial", u.Serial, "letters or digits")
	}
	c.number(path+".lot", u.Lot)
	c.words(path+".traits", u.Traits)
	c.line(path+".note", u.Note)
	c.distance(path+".prior_distance", u.Prior)
}

func (c *checker) measurements(rec *Record, base *Release) {
	c.many("measurements", len(rec.Measurements), maxMeasurements)
	for i, m := range rec.Measurements {
		c.position(fieldOf("measurements", i, "position"), m.Position, rec, base)
		c.word(fieldOf("measurements", i, "characteristic"), m.Characteristic)
		c.quantity(fieldOf("measurements", i, "value"), m.Value, true)
		c.line(fieldOf("measurements", i, "measured_by"), m.MeasuredBy)
		c.line(fieldOf("measurements", i, "instrument"), m.Instrument)
		c.notAfter(fieldOf("measurements", i, "measured_date"), m.Measured, rec.Delivered, "the delivery date")
	}
}

// quantity wants a number with its unit: 0.18 may be millimetres or
// thousandths of an inch.
func (c *checker) quantity(name string, q vehicle.Quantity, needed bool) {
	if q == (vehicle.Quantity{}) {
		if needed {
			c.refuse(name, "", "a number and its unit, as in 0.10 mm")
		}
		return
	}
	if parsed, err := vehicle.ParseQuantity(q.String()); err != nil || parsed != q {
		c.refuse(name+".unit", q.Unit, "the unit of the value, as in mm, N.m or l")
	}
}

func (c *checker) fluids(rec *Record, base *Release) {
	c.many("fluids", len(rec.Fluids), maxEntries)
	for i, f := range rec.Fluids {
		c.position(fieldOf("fluids", i, "position"), f.Position, rec, base)
		c.need(fieldOf("fluids", i, "fluid"), f.Fluid, "class and grade, as in SAE 80W-90 API GL-5")
		c.quantity(fieldOf("fluids", i, "quantity"), f.Quantity, false)
		c.number(fieldOf("fluids", i, "batch"), f.Batch)
	}
}

func (c *checker) deviations(rec *Record) {
	c.many("deviations", len(rec.Deviations), maxEntries)
	ids := make([]string, len(rec.Deviations))
	for i, d := range rec.Deviations {
		ids[i] = d.ID
		c.need(fieldOf("deviations", i, "deviation_id"), d.ID, "an identifier, as in D1")
		if d.Position != "" {
			c.word(fieldOf("deviations", i, "position"), d.Position)
		}
		if strings.TrimSpace(d.Text) == "" {
			c.refuse(fieldOf("deviations", i, "text"), "", "what differs and why")
		}
		c.prose(fieldOf("deviations", i, "text"), d.Text)
		c.need(fieldOf("deviations", i, "approved_by"), d.ApprovedBy, "who approved it")
		if d.Approved.IsZero() {
			c.refuse(fieldOf("deviations", i, "approved_date"), "", "when it was approved")
		}
	}
	c.unique("deviations", ids)
}

func (c *checker) roadTest(rec *Record) {
	c.many("road_test", len(rec.RoadTest), maxEntries)
	for i, l := range rec.RoadTest {
		if l.Tested.IsZero() {
			c.refuse(fieldOf("road_test", i, "test_date"), "", "the day of the test")
		}
		c.notAfter(fieldOf("road_test", i, "test_date"), l.Tested, rec.Delivered, "the delivery date")
		c.distance(fieldOf("road_test", i, "reading"), l.Reading)
		c.prose(fieldOf("road_test", i, "text"), l.Text)
		c.line(fieldOf("road_test", i, "driver"), l.Driver)
	}
}

// recordDrive wants the drive line as it results from record and release.
func (c *checker) recordDrive(rec *Record, releases ReleaseSet) {
	if rec.Tyre.Size == "" && rec.Tyre != (drivetrain.Tyre{}) {
		c.refuse("tyre.size", "", "the size beside pattern and circumference")
	}
	r := replay{record: rec, base: releases[rec.Release], tyre: rec.Tyre, drive: rec.Drive, dial: rec.Dial}
	r.standardDriveline()
	c.counting("", r.tyre, r.drive, r.dial)
	c.shows("delivery_reading", rec.DeliveryReading, r.dial)
}
