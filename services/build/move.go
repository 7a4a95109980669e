package build

import (
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Move is a component on its way from one vehicle to another.
type Move struct {
	From, To     *Record
	FromPosition string
	ToPosition   string
	Date         vehicle.Date
	Covered      vehicle.Entered // what the unit had covered in all by then, where known
	Reason       string
	DoneBy       string
}

// Changes gives both halves of the move: what happened to the vehicle that
// lost the unit and to the one that got it. The unit keeps part, serial, lot,
// the traits as far as they are known, and the day its bedding-in began. Its prior distance is what it had
// covered by then; where nobody knows that, it is what it had when it came to
// the first vehicle, and the other half of the move, which each half names,
// says where it ran since.
//
// fromChanges is what is recorded of the first vehicle. The error is of kind
// FailedPrecondition when nothing stood at the position on that day.
func (m Move) Changes(fromChanges []Change, releases ReleaseSet) (removed, fitted Change, err error) {
	r, err := replayTo(m.From, fromChanges, releases, m.Date)
	if err != nil {
		return Change{}, Change{}, err
	}
	stands := r.fitted[m.FromPosition]
	if stands == nil {
		return Change{}, Change{}, fault.New(fault.FailedPrecondition, "NOTHING_THERE",
			"on %s nothing stood at the %s of %s", m.Date.Long(), m.FromPosition, m.From.Serial)
	}
	unit := stands.Component
	if stands.TraitsFrom == TraitsAssumed {
		unit.Traits = nil // the record of a move makes nothing known
	}
	unit.BeddingIn, unit.Fitted, unit.Position = unit.BeddingStart(), m.Date, m.ToPosition
	if !m.Covered.IsZero() {
		unit.Prior = m.Covered
	}
	removed = Change{
		Serial: m.From.Serial, Kind: Remove, Date: m.Date, Source: SourceService,
		Component: Component{Position: m.FromPosition, Part: unit.Part, Serial: unit.Serial, Lot: unit.Lot},
		Reason:    m.Reason, DoneBy: m.DoneBy,
	}
	fitted = Change{
		Serial: m.To.Serial, Kind: Fit, Date: m.Date, Source: SourceService,
		Component: unit, Reason: m.Reason, DoneBy: m.DoneBy,
	}
	return removed, fitted, nil
}
