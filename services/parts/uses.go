package parts

import (
	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// Where something is used: which vehicles have, had or may have a part, a lot
// or a component. A bulletin stands on the answer, so it must miss nobody whom
// the records do not clear, and must not frighten those whom they do.
//
// Three records are read together. The build record and its changes say which
// unit stood at which position from when until when (build.Timeline). Service
// entries say which parts went in, mostly without a position. The catalogue
// says what belongs where, which kit holds a part, what is renewed with what,
// and which part takes whose place.
//
// A vehicle has the thing on a day, or had it before, when a unit is on record
// that meets all that was asked: its part, its lot, its serial. It may have it
// when the records neither say so nor exclude it:
//
//   - the part is there and nobody wrote down its lot or serial. What was
//     written down later of the same unit counts: at an overhaul, on another
//     vehicle that it stood on, in the service entry of the day it was fitted.
//   - a kit that holds the part was fitted or used, or a part with which it is
//     renewed, and no entry of that day names the part itself.
//   - the unit is on record, but a part that can stand in its place was used
//     later, and no record says where it went in.
//   - it is a small part, on an assembly, where nobody records what stands: an
//     application that holds, held or may hold for the vehicle calls for it, or
//     for another of its patterns, or for what brings it. On an assembly that
//     stood elsewhere before, whatever was right there may be, as far as
//     conditions ask for more than the assembly itself.
//   - the release or an option calls for it, or for another of its patterns,
//     and nobody recorded the unit: no build record or change names it, and it
//     has no lot or serial. An application outranks the release there.
//
// The patterns of a part are what supersessions lead to from it, what they led
// from to it, and what else they lead to from there, as far as they may hold
// for the release that the position follows. An earlier pattern may have been
// the right one when the vehicle was built; a later one may have gone in since
// the day its supersession took effect, for not everybody keeps records of
// ordinary service. So a part that a release calls for is there for sure, from
// the day of the build, only where no supersession of it was in force by then;
// with all its patterns asked for, one of them is. Otherwise any that was
// allowed on that day may be, and the one that was current is the likeliest.
//
// A pattern was allowed on a day, and may have gone in since, unless a
// supersession of it was in force before: one that is not two-way, needs no
// other part to be there, holds for the release, and does not have stock of the
// old part used up. That day is the day on which the unit was fitted; for a
// small part, the vehicle's build where the assembly has been on it since, new;
// when any other assembly was put together nobody knows, and so nothing is
// excluded for it by its age.
//
// What excludes a vehicle: another lot or serial on record; the days, for a
// component is in one place at a time, and one that came new was nowhere
// before; and that all its places have been filled anew since. A place is a
// position at which the part, or one that supersessions connect it with, stands
// or stood, or where the catalogue puts it. What else belongs at such a place
// leaves in doubt, when it is used, what stood there, for it may have gone in
// elsewhere. A service entry that used as many as there are places fills them
// all; a unit with a serial of its own comes and goes by changes alone, since
// those are recorded. With an assembly goes what is on it; whole assemblies
// come and go by changes, too. Once a record says what stands somewhere, a
// change of that place or an entry, what follows there is taken to be on record
// as well.
//
// An entry of the day on which a change fitted the same part is the same work:
// it is not told twice, and it lends its lot to the unit.
//
// A use ends on the day the unit went, and it is no longer there at the end of
// that day, as build.Configure has it.

// UseQuestion asks where something is used. At least one of part, lot and
// serial is given; what is given must all be met.
type UseQuestion struct {
	Part              string // a number, with or without separators
	Lot               string // as marked
	Serial            string // of a component, as stamped
	WithSupersessions bool   // also the parts before and after it in its chains
	From, Until       vehicle.Date
	On                vehicle.Date // the day that Has is for; uses that begin later are left out
}

// UsedPart is a part that a service entry says went in.
type UsedPart struct {
	Vehicle  vehicle.Serial
	Entry    string // resource name
	Date     vehicle.Date
	Part     string
	Quantity int
	Lot      string // empty when nobody wrote it down
}

// Certainty says how sure a use is.
type Certainty int

// The certainties, numbered as in the API.
const (
	CertaintyUnspecified Certainty = iota
	Has                            // it is there on the day asked for
	Had                            // it was there and is no more
	MayHave                        // the records do not exclude it, or did not until it ended
)

// Use is one stay of the thing on one vehicle.
type Use struct {
	Vehicle     vehicle.Serial
	Position    string // empty when no record says where
	Part        string // as it is written there
	Serial, Lot string // of the unit, where recorded
	From, Until vehicle.Date
	Certainty   Certainty
	Origin      build.Origin
	Record      string         // resource name of the change or entry; empty for the build
	CameFrom    vehicle.Serial // the vehicle it stood on before, empty for none on record
	WentTo      vehicle.Serial // and after
	Reasons     []vehicle.Reason
}

// UsePage is a page of uses, with counts over all pages. A vehicle counts once:
// as one that has it; else as one that may have it now; else as one that had
// it; else as one that may have had it, which is among MayHave.
type UsePage struct {
	Uses              []Use // in order of vehicle, position and day
	Next              string
	Has, Had, MayHave int
}
