package build

import (
	"slices"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func compare(a, b string) int { return strings.Compare(a, b) }

// AsBuilt tells what left the works: the release, then the options, then what
// the build record lists. The error is of kind FailedPrecondition when the
// record's release is not in the set.
func AsBuilt(rec Record, releases ReleaseSet) (Configuration, error) {
	r, err := newReplay(&rec, releases)
	if err != nil {
		return Configuration{}, err
	}
	conf := r.configuration()
	conf.AsBuilt = true
	return conf, nil
}

// Configure tells what is on the vehicle at the end of a day: the vehicle as
// built, then every change up to that day in the order of InOrder. Changes
// that have no effect (an overhaul where nothing stands, an option that is not
// there) leave it as it is, so that an amendment never makes a life
// unreadable.
//
// The error is of kind FailedPrecondition when the record's release is not in
// the set, or on is before the day the vehicle was finished.
func Configure(rec Record, changes []Change, releases ReleaseSet, on vehicle.Date) (Configuration, error) {
	r, err := replayTo(&rec, changes, releases, on)
	if err != nil {
		return Configuration{}, err
	}
	conf := r.configuration()
	conf.On = on
	return conf, nil
}

// replayTo brings a vehicle to the end of a day.
func replayTo(rec *Record, changes []Change, releases ReleaseSet, on vehicle.Date) (*replay, error) {
	if on.Before(rec.Built) {
		return nil, fault.New(fault.FailedPrecondition, "NOT_BUILT_YET",
			"%s was finished on %s; on %s there was no such vehicle", rec.Serial, rec.Built.Long(), on.Long())
	}
	r, err := newReplay(rec, releases)
	if err != nil {
		return nil, err
	}
	ordered := InOrder(changes)
	for i := range ordered {
		if ordered[i].Date.After(on) {
			break
		}
		r.apply(&ordered[i])
	}
	return r, nil
}

// apply brings the vehicle through one change.
func (r *replay) apply(c *Change) {
	switch c.Kind {
	case Fit:
		r.fit(c)
	case Remove:
		r.put(c.Component.Position, nil, c)
	case Overhaul:
		r.overhaul(c)
	case Upgrade:
		r.upgrade(c)
	case OptionAdded:
		r.addOption(c)
	case OptionRemoved:
		r.removeOption(c)
	case Tyres:
		r.tyre = c.Tyre
	case AxleRatio:
		r.drive.AxleRatio = c.Drive.AxleRatio
	case SpeedometerDrive:
		r.drive.DriverTeeth, r.drive.DrivenTeeth = c.Drive.DriverTeeth, c.Drive.DrivenTeeth
	case DialChanged:
		r.dial = c.Dial
	case PlateChanged:
		r.plate = c.Plate
	}
}

// fit puts a unit in place of what stands there.
func (r *replay) fit(c *Change) {
	f := r.resolved(c.Component, c.Date)
	unit := f.Component
	f.Origin, f.Change, f.steps = c.Source.origin(), c.Name(), []step{{rule: ruleFitted, change: c, unit: &unit}}
	if was := r.fitted[unit.Position]; was != nil && was.Origin == FromCampaign && c.Source != SourceCampaign &&
		was.Component.Part != unit.Part {
		f.steps = append(f.steps, step{rule: ruleAfterCampaign, change: c, unit: &was.Component})
	}
	r.put(unit.Position, f, c)
}

// overhaul begins the bedding-in of the unit in place again. What the change
// says of the unit replaces what was known of it.
func (r *replay) overhaul(c *Change) {
	was := r.fitted[c.Component.Position]
	if was == nil {
		return
	}
	now, said := *was, c.Component
	now.Component.BeddingIn = c.Date
	if said.Part != "" {
		now.Component.Part = said.Part
	}
	if said.Serial != "" {
		now.Component.Serial = said.Serial
	}
	if said.Lot != "" {
		now.Component.Lot = said.Lot
	}
	switch {
	case len(said.Traits) > 0:
		now.Component.Traits, now.TraitsFrom, now.source = said.Traits, TraitsRecorded, fitmentOf{}
	case now.Component.Part != was.Component.Part:
		r.findTraitsAgain(&now, was, c)
	}
	if said.Note != "" {
		now.Component.Note = said.Note
	}
	now.steps = append(slices.Clip(was.steps), step{rule: ruleOverhauled, change: c})
	r.put(said.Position, &now, c)
}

// upgrade brings positions to another release. A unit whose part that release
// keeps stays where it is; an owner's own part gives way.
func (r *replay) upgrade(c *Change) {
	to := r.releases[c.Release]
	if to == nil {
		return
	}
	if r.upgraded == nil {
		r.upgraded = map[string]upgraded{}
	}
	for _, position := range c.Positions {
		r.upgraded[position] = upgraded{to, c}
		r.bringToStandard(position, c)
	}
}

// bringToStandard leaves at a position what the specification now calls for.
func (r *replay) bringToStandard(position string, c *Change, why ...step) {
	call, was := r.call(position), r.fitted[position]
	switch {
	case call.fitment == nil && was == nil:
		return
	case call.fitment == nil:
		r.put(position, nil, c)
		return
	case was != nil && was.Origin != FromOwner && was.Component.Part == call.part():
		now := *was
		now.steps = append(slices.Clip(was.steps), why...)
		r.fitted[position] = &now // the same unit stays: nothing was fitted
		return
	}
	unit := call.unit(position)
	unit.Fitted = c.Date
	f := &Fitted{
		Component: unit, Quantity: call.count(), Origin: c.Source.origin(), Change: c.Name(), TraitsFrom: call.traitsFrom(), steps: why,
	}
	if f.Origin == FromService && c.Kind == OptionAdded {
		f.Origin = FromOption
	}
	r.put(position, f, c)
}

// addOption puts an option in force and fits what it calls for. It is looked
// up in the release the vehicle was built to, then in those that positions
// were upgraded to, the latest first.
func (r *replay) addOption(c *Change) {
	use, ok := r.lookUpOption(c.Option)
	if !ok || r.optionIndex(c.Option) >= 0 {
		return
	}
	r.inForce = append(r.inForce, use)
	for _, position := range use.option.touches() {
		r.bringToStandard(position, c, step{rule: ruleOptionAdded, change: c, option: use.option})
	}
}

// removeOption takes an option out of force and puts back what the
// specification calls for without it.
func (r *replay) removeOption(c *Change) {
	i := r.optionIndex(c.Option)
	if i < 0 {
		return
	}
	use := r.inForce[i]
	r.inForce = append(r.inForce[:i:i], r.inForce[i+1:]...)
	for _, position := range use.option.touches() {
		r.bringToStandard(position, c, step{rule: ruleOptionRemoved, change: c, option: use.option})
	}
}

func (r *replay) optionIndex(id string) int {
	return slices.IndexFunc(r.inForce, func(u optionUse) bool { return u.option.ID == id })
}

func (r *replay) lookUpOption(id string) (optionUse, bool) {
	if o := r.base.Option(id); o != nil {
		return optionUse{o, r.base}, true
	}
	var best optionUse
	for _, to := range r.upgraded {
		if o := to.release.Option(id); o != nil && (best.release == nil || to.release.newer(best.release)) {
			best = optionUse{o, to.release}
		}
	}
	return best, best.option != nil
}

// newer orders releases by the day they took effect.
func (r *Release) newer(other *Release) bool {
	if c := r.Effective.Compare(other.Effective); c != 0 {
		return c > 0
	}
	return r.ID > other.ID
}

// touches is every position that the option fills or empties.
func (o *Option) touches() []string {
	positions := make([]string, 0, len(o.Fitments)+len(o.Removes))
	for i := range o.Fitments {
		positions = append(positions, o.Fitments[i].Position)
	}
	return append(positions, o.Removes...)
}
