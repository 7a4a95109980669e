package build

import (
	"strconv"
	"strings"
	"unicode"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// CheckChange gives everything that is wrong with a change to a vehicle, by
// the paths of its fields in the API; nothing when it may be recorded. The
// vehicle is taken as it stood at the end of the change's day by what is
// recorded so far. today is the last day that a change may have.
func CheckChange(ch *Change, rec *Record, recorded []Change, releases ReleaseSet, today vehicle.Date) []fault.Field {
	var c checker
	c.said(ch)
	if !c.changeDate(ch, rec, today) || !ch.Kind.Valid() {
		return c.wrong
	}
	r, err := replayTo(rec, recorded, releases, ch.Date)
	if err != nil {
		c.refuse("change_date", ch.Date.String(), err.Error())
		return c.wrong
	}
	c.shows("reading", ch.Reading, r.dial)
	c.changed(ch, r)
	return c.wrong
}

// CheckImported is CheckChange for a change that comes with a whole history. It
// checks the change by itself and against its vehicle's record, but not
// against how the vehicle stood: changes recorded late and amendments may have
// put other things before it since, and what was exported must come back in.
// today zero means that the day is not known, and the record nil that the
// vehicle is not.
func CheckImported(ch *Change, rec *Record, releases ReleaseSet, today vehicle.Date) []fault.Field {
	var c checker
	c.said(ch)
	switch {
	case ch.Date.IsZero():
		c.refuse("change_date", "", "the day it happened")
	case rec != nil:
		c.changeDate(ch, rec, today)
	}
	switch ch.Kind {
	case Fit, Overhaul, Remove:
		c.word("component.position", ch.Component.Position)
		c.unit("component", &ch.Component)
	case Tyres:
		c.need("tyre.size", ch.Tyre.Size, "the size as moulded on the wall, as in 7.50-16")
	case DialChanged:
		for _, f := range ch.Dial.Validate() {
			c.refuse("dial."+f.Name, f.Got, f.Want)
		}
		if ch.DialStart.IsZero() {
			c.refuse("dial_start", "", "what the new dial showed when it was fitted, 0 for a new one")
		}
		c.shows("dial_start", ch.DialStart, ch.Dial)
	case Upgrade:
		if releases != nil && releases[ch.Release] == nil {
			c.refuse("release", ReleaseName(ch.Release), "a release that exists")
		}
		c.words("positions", ch.Positions)
	case OptionAdded, OptionRemoved:
		c.word("option", ch.Option)
	case PlateChanged:
		c.line("plate", ch.Plate)
	}
	c.distance("reading", ch.Reading)
	return c.wrong
}

// said checks what every change says.
func (c *checker) said(ch *Change) {
	if !ch.Kind.Valid() {
		c.refuse("kind", "", "one of "+strings.Join(kindNames[1:], ", "))
	}
	if !ch.Source.Valid() && !(ch.Kind == PlateChanged && ch.Source == SourceUnspecified) {
		c.refuse("source", "", "SERVICE, WORKS, CAMPAIGN or OWNER")
	}
	c.prose("reason", ch.Reason)
	c.line("done_by", ch.DoneBy)
}

// changeDate wants a day between the vehicle's own and today. Only the works
// can change a vehicle that it has not handed over.
func (c *checker) changeDate(ch *Change, rec *Record, today vehicle.Date) bool {
	first, what := rec.Built, "the build date"
	if ch.Source != SourceWorks && !rec.Delivered.IsZero() {
		first, what = rec.Delivered, "the delivery date"
	}
	switch {
	case ch.Date.IsZero():
		c.refuse("change_date", "", "the day it happened")
	case ch.Date.Before(first):
		c.refuse("change_date", ch.Date.String(), first.String()+", "+what+
			", or later: what left the works otherwise is for an amendment of the record")
	case !today.IsZero() && ch.Date.After(today):
		c.refuse("change_date", ch.Date.String(), "today, "+today.String()+", or earlier")
	default:
		return true
	}
	return false
}

// changed checks what the kind of change reads.
func (c *checker) changed(ch *Change, r *replay) {
	switch ch.Kind {
	case Fit:
		c.fitting(ch, r)
	case Remove:
		if r.fitted[ch.Component.Position] == nil {
			c.refuse("component.position", ch.Component.Position, "a position where something stands on that day")
		}
	case Overhaul:
		c.overhauling(ch, r)
	case Tyres:
		if ch.Tyre.Size == "" {
			c.refuse("tyre.size", "", "the size as moulded on the wall, as in 7.50-16")
		}
		c.counting("", ch.Tyre, r.drive, r.dial)
	case AxleRatio:
		drive := r.drive
		drive.AxleRatio = ch.Drive.AxleRatio
		c.counting("", r.tyre, drive, r.dial)
	case SpeedometerDrive:
		drive := ch.Drive
		drive.AxleRatio = r.drive.AxleRatio
		c.counting("", r.tyre, drive, r.dial)
	case DialChanged:
		c.counting("", r.tyre, r.drive, ch.Dial)
		if ch.DialStart.IsZero() {
			c.refuse("dial_start", "", "what the new dial showed when it was fitted, 0 for a new one")
		}
		c.shows("dial_start", ch.DialStart, ch.Dial)
	case Upgrade:
		c.upgrading(ch, r)
	case OptionAdded:
		c.addingOption(ch, r)
	case OptionRemoved:
		if r.optionIndex(ch.Option) < 0 {
			c.refuse("option", ch.Option, "an option that is on the vehicle on that day")
		}
	case PlateChanged:
		c.line("plate", ch.Plate)
	}
}

// fitting wants a position that exists, which an owner may add, and a part
// where the specification gives none.
func (c *checker) fitting(ch *Change, r *replay) {
	u := &ch.Component
	if !isWord(u.Position) {
		c.refuse("component.position", u.Position, wordForm)
		return
	}
	if ch.Source != SourceOwner && !r.knows(u.Position) {
		c.refuse("component.position", u.Position,
			"a position of the releases that the vehicle follows, of their options, or of an approved deviation; only an owner's modification adds another")
	}
	if u.Part == "" && r.call(u.Position).fitment == nil {
		c.refuse("component.part", "", "a part number: the specification gives none here")
	}
	if !u.Fitted.IsZero() && u.Fitted != ch.Date {
		c.refuse("component.fitted_date", u.Fitted.String(), "the change date, or nothing")
	}
	c.notAfter("component.bedding_in_date", u.BeddingIn, ch.Date, "the change date")
	c.unit("component", u)
}

func (r *replay) knows(position string) bool {
	if r.fitted[position] != nil || r.record.known(position, r.base) {
		return true
	}
	for _, to := range r.upgraded {
		if to.release.Knows(position) {
			return true
		}
	}
	return false
}

func (c *checker) overhauling(ch *Change, r *replay) {
	u, was := &ch.Component, r.fitted[ch.Component.Position]
	if was == nil {
		c.refuse("component.position", u.Position, "a position where something stands on that day")
		return
	}
	if u.Serial != "" && was.Component.Serial != "" && Fold(u.Serial) != Fold(was.Component.Serial) {
		c.refuse("component.serial", u.Serial, was.Component.Serial+", the unit in place; another unit is a FIT")
	}
	c.unit("component", u)
}

func (c *checker) upgrading(ch *Change, r *replay) {
	to := r.releases[ch.Release]
	if to == nil {
		c.refuse("release", ReleaseName(ch.Release), "a release that exists")
		return
	}
	if len(ch.Positions) == 0 {
		c.refuse("positions", "", "the positions that were brought to release "+to.ID)
	}
	c.many("positions", len(ch.Positions), maxFitments)
	c.unique("positions", ch.Positions)
	for i, position := range ch.Positions {
		if !to.Knows(position) && r.fitted[position] == nil {
			c.refuse(index("positions", i), position, "a position of release "+to.ID+" or of the vehicle")
		}
	}
}

func (c *checker) addingOption(ch *Change, r *replay) {
	use, ok := r.lookUpOption(ch.Option)
	switch {
	case !ok:
		c.refuse("option", ch.Option, "an option of a release that the vehicle follows")
		return
	case r.optionIndex(ch.Option) >= 0:
		c.refuse("option", ch.Option, "an option that is not on the vehicle yet")
		return
	}
	chosen := map[string]bool{}
	for _, u := range r.inForce {
		chosen[u.option.ID] = true
		for _, id := range u.option.Excludes {
			if id == ch.Option {
				c.refuse("option", ch.Option, "no option "+u.option.ID+" on the vehicle, which rules it out")
			}
		}
	}
	c.goesWith("option", use.option, chosen)
}

// CheckAmended gives what is wrong with an amended record in the light of what
// has happened to the vehicle since: nothing may have happened before it was
// built, nor to a vehicle that the works still had, but by the works.
func CheckAmended(rec *Record, changes []Change) []fault.Field {
	var c checker
	for i := range changes {
		ch := &changes[i]
		switch {
		case ch.Date.Before(rec.Built):
			c.refuse("build_date", rec.Built.String(), ch.Date.String()+", the day of "+ch.Name()+", or earlier")
		case ch.Source != SourceWorks && !rec.Delivered.IsZero() && ch.Date.Before(rec.Delivered):
			c.refuse("delivery_date", rec.Delivered.String(), ch.Date.String()+", the day of "+ch.Name()+", or earlier")
		}
	}
	return c.wrong
}

// maxChanges keeps all that happened to one vehicle within one message.
const maxChanges = 1000

// CheckCount refuses a change to a vehicle that has too many already.
func CheckCount(recorded int) []fault.Field {
	if recorded < maxChanges {
		return nil
	}
	return []fault.Field{{Name: "parent", Got: strconv.Itoa(recorded) + " changes", Want: "fewer than 1000 changes of one vehicle"}}
}

// CheckReason wants the reason of a correction or a move: at least one word.
func CheckReason(reason string) []fault.Field {
	var c checker
	if !strings.ContainsFunc(reason, unicode.IsLetter) {
		c.refuse("reason", reason, "why, in at least one word")
	}
	c.prose("reason", reason)
	return c.wrong
}
