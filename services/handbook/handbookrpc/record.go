package handbookrpc

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/handbook"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// last is what stands behind the last slash of a name.
func last(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

// makeup is what predicates can ask about the vehicle.
func (g *gathered) makeup() vehicle.Makeup {
	c := g.configuration
	m := vehicle.Makeup{
		Release: last(c.GetRelease()), Options: c.GetOptions(), Wheelbase: c.GetWheelbase(), Market: c.GetMarket(),
		TyreSize: c.GetTyre().GetSize(), SpeedometerDrive: teeth(c.GetSpeedometerDrive()), Fitted: map[string][]string{},
	}
	if ratio, err := vehicle.ParseDecimal(c.GetAxleRatio()); err == nil {
		m.AxleRatio = ratio.Float64()
	}
	for _, f := range c.GetFitted() {
		m.Fitted[f.GetComponent().GetPosition()] = f.GetComponent().GetTraits()
	}
	return m
}

func teeth(d *vehiclev1.SpeedometerDrive) string {
	if d.GetDriverTeeth() == 0 || d.GetDrivenTeeth() == 0 {
		return ""
	}
	return fmt.Sprintf("%d:%d", d.GetDriverTeeth(), d.GetDrivenTeeth())
}

// record is what is on record, as the domain's plain values. Nobody's name is in
// it, nor a plate or the number of a key: it is archived with the vehicle.
func (g *gathered) record(works handbook.ContactPlace, on vehicle.Date) *handbook.Record {
	b, c := g.build, g.configuration
	r := &handbook.Record{
		Serial: vehicle.Serial(last(b.GetName())), Release: last(c.GetRelease()), Options: c.GetOptions(), Wheelbase: c.GetWheelbase(),
		Market: c.GetMarket(), DonorYear: int(b.GetDonorYear()), Built: day(b.GetBuildDate()), Dial: vehiclewire.Dial(c.GetDial()),
		Factor: g.drive.GetSpeedometer().GetOdometerFactorPpm(), Works: works,
	}
	if delivered := day(b.GetDeliveryDate()); !delivered.After(on) {
		r.Delivered = delivered
	}
	switch b.GetFinish() {
	case buildv1.Finish_FINISH_ORIGINAL_RETAINED:
		r.Finish = "original, retained"
	case buildv1.Finish_FINISH_REFINISHED:
		r.Finish = "refinished"
	}
	if b.GetFinishNote() != "" {
		r.Finish = strings.TrimPrefix(r.Finish+"; "+b.GetFinishNote(), "; ")
	}
	for _, f := range c.GetFitted() {
		r.Fitted = append(r.Fitted, handbook.FittedThing{
			Position: f.GetComponent().GetPosition(), Traits: f.GetComponent().GetTraits(), Standard: f.GetStandard(),
		})
	}
	g.settings(r)
	g.driveLine(r)
	g.plan(r)
	g.services(r, on)
	g.measured(r)
	r.Cover = g.promises(r.Drive.Unit)
	r.Sorted()
	return r
}

// promises are the terms of all covers. A term that holds for the vehicle as a
// whole is said once and not again for each of its parts.
func (g *gathered) promises(unit vehicle.Unit) (all []handbook.Cover) {
	whole := map[handbook.Cover]bool{}
	for _, c := range g.covers {
		of := last(c.GetName())
		for _, one := range promises(c, unit) {
			if of == wholeVehicle {
				whole[one] = true
			}
		}
	}
	for _, c := range g.covers {
		of := last(c.GetName())
		for _, one := range promises(c, unit) {
			if of != wholeVehicle && whole[one] {
				continue
			}
			one.What = of
			all = append(all, one)
		}
	}
	return all
}

// wholeVehicle is the position of the cover of the vehicle as a whole.
const wholeVehicle = "vehicle"

// promises are the terms of a cover, without what it is for.
func promises(c *warrantyv1.Cover, unit vehicle.Unit) (all []handbook.Cover) {
	for _, t := range c.GetTerms() {
		one := handbook.Cover{Promise: t.GetTitle(), Until: untilText(t, unit), Sample: c.GetSample()}
		if t.GetSupplier() != "" {
			one.Promise += " (" + t.GetSupplier() + ")"
		}
		if t.GetOfRepair() {
			one.Promise += ", on a repair"
		}
		all = append(all, one)
	}
	if len(all) == 0 && c.GetQuestion() != "" {
		all = append(all, handbook.Cover{Promise: c.GetQuestion(), Sample: c.GetSample()})
	}
	return all
}

// untilText says until when a term covers, or when it ended.
func untilText(t *warrantyv1.TermCover, unit vehicle.Unit) string {
	var limits []string
	if d := day(t.GetLastDate()); !d.IsZero() {
		limits = append(limits, d.Long())
	}
	if d, err := vehiclewire.Distance(t.GetUntilDistance()); err == nil && t.GetUntilDistance() != nil {
		limits = append(limits, d.Text(unit))
	}
	limit := strings.Join(limits, " or ")
	if by := t.GetEndedBy(); len(limits) == 2 && by == warrantyv1.WarrantyLimb_WARRANTY_LIMB_TIME {
		limit = limits[0]
	} else if len(limits) == 2 && by == warrantyv1.WarrantyLimb_WARRANTY_LIMB_DISTANCE {
		limit = limits[1]
	}
	switch {
	case t.GetState() == warrantyv1.CoverState_COVER_STATE_UNKNOWN:
		return "not known: " + t.GetQuestion()
	case t.GetState() == warrantyv1.CoverState_COVER_STATE_COVERED:
		return limit
	case t.GetEndedBy() == warrantyv1.WarrantyLimb_WARRANTY_LIMB_OWNER:
		return "ended with another owner"
	case limit != "" && t.GetEndedBy() != warrantyv1.WarrantyLimb_WARRANTY_LIMB_UNSPECIFIED:
		return "ended: " + limit
	}
	return "does not cover"
}

func (g *gathered) settings(r *handbook.Record) {
	for _, s := range g.sheet.GetSettings() {
		p := s.GetSetting()
		r.Settings = append(r.Settings, handbook.Setting{
			Position: p.GetPosition(), Characteristic: p.GetCharacteristic(), Subject: p.GetSubject(), Unit: p.GetUnit(),
			Lower: p.GetLower(), Target: p.GetTarget(), Upper: p.GetUpper(), Window: s.GetWindow(), Method: p.GetMethod(), Sample: p.GetSample(),
		})
	}
	for _, f := range g.sheet.GetFluids() {
		p := f.GetCapacity()
		fluid := handbook.Fluid{Position: p.GetPosition(), Fluid: p.GetFluid(), Method: p.GetMethod(), NeverMix: p.GetNeverMix(), Sample: p.GetSample()}
		if q, err := vehiclewire.Quantity(p.GetQuantity()); err == nil {
			fluid.Quantity = q
		}
		r.Fluids = append(r.Fluids, fluid)
	}
}

// kilometresInMile is exact (NIST SP 811, Appendix B).
const kilometresInMile = 1.609344

func (g *gathered) driveLine(r *handbook.Record) {
	d := g.drive
	line := handbook.DriveLine{
		Gears: d.GetGears(), High: d.GetTransferHigh(), Low: d.GetTransferLow(), Axle: d.GetAxleRatio(),
		TyreSize: d.GetTyre().GetTyre().GetSize(), Tread: d.GetTyre().GetTyre().GetPattern(), Drive: teeth(d.GetSpeedometerDrive()),
		Unit: vehicle.Miles, ReadsHigh: d.GetSpeedometer().GetReadsHighPercent(), Estimated: d.GetTyre().GetEstimated(), Sample: d.GetSample(),
	}
	scale := kilometresInMile
	if d.GetSpeedUnit() == "km/h" {
		line.Unit, scale = vehicle.Kilometres, 1
	}
	for _, s := range d.GetRoadSpeeds() {
		line.Speeds = append(line.Speeds, handbook.GearSpeed{Low: s.GetRange() == "low", Gear: int(s.GetGear()), PerThousand: s.GetSpeedPerThousandRpm()})
	}
	for _, s := range d.GetSpeedometer().GetDialSpeeds() {
		line.Dial = append(line.Dial, handbook.DialSpeed{True: s.GetSpeed() * scale, Shown: s.GetIndicatedSpeed() * scale})
	}
	for _, m := range d.GetMissing() {
		line.Missing = append(line.Missing, m.GetSentence())
	}
	r.Drive = line
}

// plan is what the programme asks for of this vehicle, in the programme's order.
func (g *gathered) plan(r *handbook.Record) {
	r.PlanSample = g.schedule.GetSample()
	applies := map[string]bool{}
	for _, s := range g.schedule.GetItems() {
		applies[s.GetItemId()] = true
	}
	for _, item := range g.programme.GetItems() {
		if !applies[item.GetItemId()] {
			continue
		}
		p := handbook.PlanItem{
			ID: item.GetItemId(), Title: item.GetTitle(), Group: item.GetGroup(), OwnerCheck: item.GetOwnerCheck(),
			First: limitText(item.GetFirst(), r.Drive.Unit), Every: limitText(item.GetEvery(), r.Drive.Unit),
		}
		for _, e := range item.GetStartsOn() {
			name := strings.ToLower(strings.TrimPrefix(e.GetEvent().String(), "EVENT_KIND_"))
			p.OnEvents = append(p.OnEvents, strings.ReplaceAll(name, "_", " "))
		}
		r.Plan = append(r.Plan, p)
	}
}

// limitText is an interval in words: "3,000 miles or 12 months".
func limitText(l *schedulev1.Limit, unit vehicle.Unit) string {
	var said []string
	if d, err := vehiclewire.Distance(l.GetDistance()); err == nil && d > 0 {
		said = append(said, d.Text(unit))
	}
	switch n := l.GetMonths(); {
	case n == 1:
		said = append(said, "1 month")
	case n > 12 && n%12 == 0:
		said = append(said, strconv.Itoa(int(n/12))+" years")
	case n > 1:
		said = append(said, strconv.Itoa(int(n))+" months")
	}
	return strings.Join(said, " or ")
}

// services are the entries that stand and the readings that count, up to the day.
func (g *gathered) services(r *handbook.Record, on vehicle.Date) {
	titles, order := map[string]string{}, map[string]int{}
	for i, item := range g.programme.GetItems() {
		titles[item.GetItemId()], order[item.GetItemId()] = item.GetTitle(), i
	}
	place := func(d *schedulev1.ItemDone) int {
		if at, known := order[d.GetItemId()]; known {
			return at
		}
		return len(order) // of an earlier programme: behind the others
	}
	for _, e := range g.entries {
		if e.GetVoidReason() != "" || day(e.GetServiceDate()).After(on) {
			continue
		}
		s := handbook.Service{On: day(e.GetServiceDate()), Reading: dialText(e.GetReading()), Stated: e.GetOwnerStatement()}
		items := slices.Clone(e.GetItems())
		slices.SortStableFunc(items, func(a, b *schedulev1.ItemDone) int { return place(a) - place(b) })
		for _, done := range items {
			title, known := titles[done.GetItemId()]
			if !known { // of an earlier programme
				title = done.GetItemId()
			}
			s.Done = append(s.Done, handbook.Job{Title: title})
		}
		r.Services = append(r.Services, s)
	}
	for _, one := range g.readings {
		if one.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED || day(one.GetReadingDate()).After(on) {
			continue
		}
		reading := handbook.Reading{On: day(one.GetReadingDate()), Value: dialWords(one.GetValue())}
		if d, err := vehiclewire.Distance(one.GetLifeDistance()); err == nil && one.GetLifeDistance() != nil {
			reading.True = d.Text(r.Drive.Unit)
		}
		r.Readings = append(r.Readings, reading)
	}
	slices.SortStableFunc(r.Readings, func(a, b handbook.Reading) int { return a.On.Compare(b.On) })
	const few = 12
	if n := len(r.Readings); n > few { // the first and the last ones
		r.Readings = append(r.Readings[:1:1], r.Readings[n-few+1:]...)
	}
}

// dialText is a reading as it was entered, with commas for the eye: "12,345.6 mi".
func dialText(d *vehiclev1.Distance) string {
	value := d.GetEnteredValue()
	if value == "" {
		return ""
	}
	return wording.Grouped(value) + " " + d.GetEnteredUnit()
}

// dialWords is a reading beside a distance in words: "12,345.6 miles".
func dialWords(d *vehiclev1.Distance) string {
	text := dialText(d)
	if short, ok := strings.CutSuffix(text, " "+string(vehicle.Miles)); ok {
		return short + " miles"
	}
	return text
}

// measured is what was measured at the build and last, of what is there still.
func (g *gathered) measured(r *handbook.Record) {
	there := map[string]bool{"": true}
	for _, f := range r.Fitted {
		there[f.Position] = true
	}
	for _, s := range g.series {
		if !there[s.GetPosition()] || len(s.GetValues()) == 0 {
			continue
		}
		m := handbook.Measured{Position: s.GetPosition(), Characteristic: s.GetCharacteristic(), Window: limitsText(s.GetLimit())}
		for _, v := range s.GetValues() {
			if strings.HasPrefix(v.GetRecord(), "builds/") && !strings.Contains(v.GetRecord(), "/changes/") {
				m.Built = valueText(v.GetValue())
				continue
			}
			m.Last, m.LastOn = valueText(v.GetValue()), day(v.GetMeasuredDate())
			m.Outside = outside(v.GetValue(), s.GetLimit())
		}
		r.Measured = append(r.Measured, m)
	}
}

func valueText(q *vehiclev1.Quantity) string {
	unit, ok := vehicle.UnitName(q.GetUnit())
	if !ok {
		unit = q.GetUnit()
	}
	return strings.TrimSpace(q.GetValue() + " " + unit)
}

// outside reports whether a value lies beyond one end of its window, as far as
// both are in one unit.
func outside(q *vehiclev1.Quantity, l *schedulev1.MeasuredLimit) bool {
	value, err := vehicle.ParseDecimal(q.GetValue())
	if err != nil || q.GetUnit() != l.GetUnit() {
		return false
	}
	if lower, err := vehicle.ParseDecimal(l.GetLower()); err == nil && value.Cmp(lower) < 0 {
		return true
	}
	upper, err := vehicle.ParseDecimal(l.GetUpper())
	return err == nil && value.Cmp(upper) > 0
}

func limitsText(l *schedulev1.MeasuredLimit) string {
	unit, ok := vehicle.UnitName(l.GetUnit())
	if !ok {
		unit = l.GetUnit()
	}
	switch lower, upper := l.GetLower(), l.GetUpper(); {
	case lower != "" && upper != "":
		return lower + " to " + upper + " " + unit
	case lower != "":
		return "at least " + lower + " " + unit
	case upper != "":
		return "at most " + upper + " " + unit
	}
	return ""
}
