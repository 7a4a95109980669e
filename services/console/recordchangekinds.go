package console

import (
	"errors"
	"strconv"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// FitChange is a component fitted in place of what stood there.
type FitChange struct {
	Position  string // "alternator"; with spaces as well
	Part      string // empty for the part that the specification gives
	Serial    string
	Lot       string
	Prior     string       // what it had covered before, with its unit; empty for a new one
	BeddingIn vehicle.Date // when its bedding-in began elsewhere; zero for here
	Traits    []string     // what it is like, where it differs from the release
	Note      string
}

func (f FitChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_FIT
	ch.Component = &buildv1.Component{
		Position: asPosition(f.Position), Part: f.Part, Serial: f.Serial, Lot: f.Lot,
		BeddingInDate: vehiclewire.DateProto(f.BeddingIn), Traits: f.Traits, Note: f.Note,
	}
	var err error
	ch.Component.PriorDistance, err = covered("prior", f.Prior)
	return fieldsOf(err)
}

// RemoveChange is a component taken off, the position left empty.
type RemoveChange struct{ Position string }

func (r RemoveChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_REMOVE
	ch.Component = &buildv1.Component{Position: asPosition(r.Position)}
	return nil
}

// OverhaulChange is a component put in order where it stands.
type OverhaulChange struct {
	Position string
	Part     string // where another number describes it since
	Serial   string // where it was found out
	Note     string
}

func (o OverhaulChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_OVERHAUL
	ch.Component = &buildv1.Component{Position: asPosition(o.Position), Part: o.Part, Serial: o.Serial, Note: o.Note}
	return nil
}

// TyresChange is tyres of another size or pattern.
type TyresChange struct {
	Size          string
	Pattern       string
	Circumference string // measured rolling circumference in millimetres: "2450", "2450mm"; empty when nobody measured it
}

func (t TyresChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_TYRES
	ch.Tyre = &vehiclev1.Tyre{Size: t.Size, Pattern: strings.TrimSpace(t.Pattern)}
	if t.Circumference == "" {
		return nil
	}
	n, err := strconv.ParseInt(strings.TrimSpace(strings.TrimSuffix(t.Circumference, "mm")), 10, 32)
	if err != nil || n <= 0 {
		return []fault.Field{{Name: "circumference", Got: t.Circumference, Want: "whole millimetres that the wheel rolls in a turn, as in 2450mm"}}
	}
	ch.Tyre.CircumferenceMm = int32(n)
	return nil
}

// AxleRatioChange is another axle ratio: "4.12", or as it is printed, "4.12 to 1".
type AxleRatioChange struct{ Ratio string }

func (a AxleRatioChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO
	text := strings.TrimSpace(a.Ratio)
	for _, to := range []string{" to 1", ":1"} {
		text = strings.TrimSuffix(text, to)
	}
	if _, err := vehicle.ParseDecimal(text); err != nil {
		return []fault.Field{{Name: "axle_ratio", Got: a.Ratio, Want: "turns of the propeller shaft for one of the wheel, as in 4.12"}}
	}
	ch.AxleRatio = text
	return nil
}

// SpeedometerDriveChange is another pair of speedometer drive gears, driver and
// driven teeth: "6:16", or as it is printed, "6/16".
type SpeedometerDriveChange struct{ Teeth string }

func (d SpeedometerDriveChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE
	driver, driven, ok := strings.Cut(strings.ReplaceAll(d.Teeth, "/", ":"), ":")
	a, errA := strconv.ParseInt(strings.TrimSpace(driver), 10, 32)
	b, errB := strconv.ParseInt(strings.TrimSpace(driven), 10, 32)
	if !ok || errA != nil || errB != nil {
		return []fault.Field{{Name: "speedometer_drive", Got: d.Teeth, Want: "teeth of the driving and of the driven gear, as in 6:16"}}
	}
	ch.SpeedometerDrive = &vehiclev1.SpeedometerDrive{DriverTeeth: int32(a), DrivenTeeth: int32(b)}
	return nil
}

// DialChange is an odometer replaced, set anew or changed to another unit.
type DialChange struct {
	Digits       int32
	Unit         string // "mi" or "km"
	TurnsPerUnit int32  // of the cable, as printed on the dial
	Tenths       bool
	Start        string // what it showed when fitted; without a unit, that of the dial
}

func (d DialChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_DIAL
	unit, err := vehicle.ParseUnit(d.Unit)
	if err != nil {
		return []fault.Field{{Name: "unit", Got: d.Unit, Want: "mi or km, as the dial counts"}}
	}
	ch.Dial = &vehiclev1.Dial{Digits: d.Digits, Unit: string(unit), TurnsPerUnit: d.TurnsPerUnit, Tenths: d.Tenths}
	ch.DialStart, err = dialReading("start", d.Start, string(unit))
	return fieldsOf(err)
}

// UpgradeChange is some positions brought to another release: "R3".
type UpgradeChange struct {
	Release   string
	Positions []string
}

func (u UpgradeChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_UPGRADE
	ch.Release = "releases/" + strings.TrimPrefix(u.Release, "releases/")
	for _, p := range u.Positions {
		ch.Positions = append(ch.Positions, asPosition(p))
	}
	return nil
}

// OptionChange is an option added after delivery, or taken off.
type OptionChange struct {
	Option  string
	Removed bool
}

func (o OptionChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind = buildv1.ChangeKind_CHANGE_KIND_OPTION_ADDED
	if o.Removed {
		ch.Kind = buildv1.ChangeKind_CHANGE_KIND_OPTION_REMOVED
	}
	ch.Option = asPosition(o.Option)
	return nil
}

// PlateChange is another registration plate; empty when it has none since.
type PlateChange struct{ Plate string }

func (p PlateChange) enter(ch *buildv1.Change) []fault.Field {
	ch.Kind, ch.Plate = buildv1.ChangeKind_CHANGE_KIND_PLATE, strings.TrimSpace(p.Plate)
	return nil
}

// asPosition writes "Output shaft bearing" as positions and options are written.
func asPosition(text string) string {
	return strings.ToLower(strings.Join(strings.Fields(text), "-"))
}

// covered reads what a unit has covered. Its unit must be said: the unit may
// come from a vehicle whose dial counts otherwise.
func covered(field, text string) (*vehiclev1.Distance, error) {
	if text == "" {
		return nil, nil
	}
	if _, unit := apart(text); unit == "" {
		return nil, fault.InvalidField(field, text, "a distance with its unit, as in 12000mi")
	}
	return dialReading(field, text, "")
}

// fieldsOf gives the fields of a refusal of our own making.
func fieldsOf(err error) []fault.Field {
	var f *fault.Error
	if errors.As(err, &f) {
		return f.Fields
	}
	return nil
}
