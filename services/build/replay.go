package build

import (
	"slices"

	"halfshaft/services/drivetrain"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// replay is a vehicle on its way from the build through its changes.
type replay struct {
	record   *Record
	releases ReleaseSet
	base     *Release // the release it was built to
	upgraded map[string]upgraded
	inForce  []optionUse
	fitted   map[string]*Fitted
	tyre     drivetrain.Tyre
	drive    drivetrain.Drive
	dial     vehicle.Dial
	plate    string

	watch func(position string, now *Fitted, c *Change) // tells each fitting and taking off; nil for nobody
}

// upgraded is the later release that a position follows, and since which change.
type upgraded struct {
	release *Release
	change  *Change
}

// newReplay begins with the vehicle as it left the works. The error is of kind
// FailedPrecondition when the release is not known.
func newReplay(rec *Record, releases ReleaseSet) (*replay, error) {
	base := releases[rec.Release]
	if base == nil {
		return nil, fault.New(fault.FailedPrecondition, "RELEASE_UNKNOWN",
			"%s was built to release %s, which is not known here", rec.Serial, rec.Release)
	}
	r := &replay{
		record: rec, releases: releases, base: base, plate: rec.Plate,
		tyre: rec.Tyre, drive: rec.Drive, dial: rec.Dial,
		fitted: make(map[string]*Fitted, len(base.Fitments)+len(rec.Components)),
	}
	r.standardDriveline()
	r.takeOptions(rec.Options)
	for i := range base.Fitments {
		r.fitStandard(base.Fitments[i].Position)
	}
	for _, use := range r.inForce {
		for i := range use.option.Fitments {
			r.fitStandard(use.option.Fitments[i].Position)
		}
	}
	for i := range rec.Components {
		r.fitBuilt(&rec.Components[i])
	}
	return r, nil
}

// takeOptions puts options of the base release in force, in the release's own
// order.
func (r *replay) takeOptions(ids []string) {
	for i := range r.base.Options {
		if slices.Contains(ids, r.base.Options[i].ID) {
			r.inForce = append(r.inForce, optionUse{&r.base.Options[i], r.base})
		}
	}
}

// standardDriveline fills in what the record leaves to the release.
func (r *replay) standardDriveline() {
	standard := &r.base.Driveline
	if r.tyre.Size == "" {
		r.tyre = standard.Tyre
	}
	if r.drive.AxleRatio.Sign() == 0 {
		r.drive.AxleRatio = standard.Drive.AxleRatio
	}
	if r.drive.DriverTeeth == 0 && r.drive.DrivenTeeth == 0 {
		r.drive.DriverTeeth, r.drive.DrivenTeeth = standard.Drive.DriverTeeth, standard.Drive.DrivenTeeth
	}
	if r.dial == (vehicle.Dial{}) {
		r.dial = standard.Dial
	}
}

// call resolves what the specification calls for at a position, by the release
// that the position follows.
func (r *replay) call(position string) called {
	to := r.upgraded[position]
	if to.release == nil {
		to.release = r.base
	}
	c := callFor(position, to.release, r.inForce)
	c.upgrade = to.change
	return c
}

// fitStandard fits at the build what the specification calls for.
func (r *replay) fitStandard(position string) {
	c := r.call(position)
	if c.fitment == nil {
		return
	}
	unit := c.unit(position)
	unit.Fitted = r.record.Built
	r.fitted[position] = &Fitted{Component: unit, Quantity: c.count(), Origin: c.origin(), TraitsFrom: c.traitsFrom(), steps: r.deviations(position)}
}

// deviations gives the approved deviations that concern a position: what is
// there may differ from the specification though no unit is listed.
func (r *replay) deviations(position string) []step {
	var steps []step
	for i := range r.record.Deviations {
		if d := &r.record.Deviations[i]; d.Position == position {
			steps = append(steps, step{rule: ruleDeviation, deviation: d, record: r.record})
		}
	}
	return steps
}

// fitBuilt fits what the build record lists.
func (r *replay) fitBuilt(listed *Component) {
	f := r.resolved(*listed, r.record.Built)
	unit := f.Component
	f.Origin, f.steps = FromBuild, append([]step{{rule: ruleBuildRecord, unit: &unit, record: r.record}}, r.deviations(unit.Position)...)
	r.fitted[unit.Position] = f
}

// resolved fills in what a listed component leaves to the specification.
func (r *replay) resolved(listed Component, day vehicle.Date) *Fitted {
	c := r.call(listed.Position)
	if listed.Part == "" {
		listed.Part = c.part()
	}
	if listed.Fitted.IsZero() {
		listed.Fitted = day
	}
	f := &Fitted{Component: listed, Quantity: c.count(), TraitsFrom: TraitsRecorded}
	if len(listed.Traits) == 0 {
		r.findTraits(f, c)
	}
	return f
}

// put fits something, or takes off what is there when now is nil.
func (r *replay) put(position string, now *Fitted, c *Change) {
	if now == nil {
		delete(r.fitted, position)
	} else {
		r.fitted[position] = now
	}
	if r.watch != nil {
		r.watch(position, now, c)
	}
}

// configuration is the vehicle as it now stands.
func (r *replay) configuration() Configuration {
	conf := Configuration{
		Serial: r.record.Serial, Release: r.base.ID, Tyre: r.tyre, Drive: r.drive, Dial: r.dial,
		Wheelbase: r.record.Wheelbase, Market: r.record.Market, Plate: r.plate, Programme: r.base.Programme,
		Fitted: make([]Fitted, 0, len(r.fitted)),
	}
	for _, use := range r.inForce {
		conf.Options, conf.Titles = append(conf.Options, use.option.ID), append(conf.Titles, use.option.Title)
	}
	for position, f := range r.fitted {
		now := *f
		now.called = r.call(position)
		now.Release = now.called.release.ID
		now.Standard = now.Origin != FromOwner && now.Component.Part == now.called.part()
		conf.Fitted = append(conf.Fitted, now)
	}
	slices.SortFunc(conf.Fitted, func(a, b Fitted) int { return compare(a.Component.Position, b.Component.Position) })
	return conf
}
