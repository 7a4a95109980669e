package buildwire

import (
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/vehicle/vehiclewire"
)

// Change reads something that happened to a vehicle. An empty name leaves
// serial and identifier empty: the service gives them.
func Change(c *buildv1.Change) (build.Change, error) {
	var r reader
	serial, id := r.child("builds/{serial}/changes/{change}", c.GetName())
	change := build.Change{
		Serial: serial, ID: id,
		Kind:        build.ChangeKind(c.GetKind()),
		Date:        r.date("change_date", c.GetChangeDate()),
		Source:      build.ChangeSource(c.GetSource()),
		Component:   r.component("component.", c.GetComponent()),
		Tyre:        vehiclewire.Tyre(c.GetTyre()),
		Drive:       vehiclewire.Drive(c.GetSpeedometerDrive(), r.decimal("axle_ratio", c.GetAxleRatio())),
		Dial:        vehiclewire.Dial(c.GetDial()),
		DialStart:   r.entered("dial_start", c.GetDialStart()),
		Reading:     r.entered("reading", c.GetReading()),
		Release:     r.id("release", "releases/{release}", c.GetRelease()),
		Positions:   c.GetPositions(),
		Option:      c.GetOption(),
		Plate:       c.GetPlate(),
		Reason:      c.GetReason(),
		DoneBy:      c.GetDoneBy(),
		Counterpart: c.GetCounterpart(),
		RecordedBy:  c.GetRecordedBy(),
		Created:     r.moment("create_time", c.GetCreateTime()),
	}
	return change, r.err()
}

// ChangeProto writes something that happened to a vehicle.
func ChangeProto(c build.Change) *buildv1.Change {
	p := &buildv1.Change{
		Name:             c.Name(),
		Kind:             buildv1.ChangeKind(c.Kind),
		ChangeDate:       vehiclewire.DateProto(c.Date),
		Source:           buildv1.ChangeSource(c.Source),
		Component:        ComponentProto(c.Component),
		Tyre:             vehiclewire.TyreProto(c.Tyre),
		AxleRatio:        decimalText(c.Drive.AxleRatio),
		SpeedometerDrive: vehiclewire.DriveProto(c.Drive),
		Dial:             vehiclewire.DialProto(c.Dial),
		DialStart:        vehiclewire.EnteredProto(c.DialStart),
		Reading:          vehiclewire.EnteredProto(c.Reading),
		Positions:        c.Positions,
		Option:           c.Option,
		Plate:            c.Plate,
		Reason:           c.Reason,
		DoneBy:           c.DoneBy,
		Counterpart:      c.Counterpart,
		RecordedBy:       c.RecordedBy,
		CreateTime:       vehiclewire.MomentProto(c.Created),
	}
	if c.Release != "" {
		p.Release = build.ReleaseName(c.Release)
	}
	return p
}

// Changes reads all that happened to a vehicle.
func Changes(changes []*buildv1.Change) ([]build.Change, error) {
	out := make([]build.Change, len(changes))
	for i, c := range changes {
		var err error
		if out[i], err = Change(c); err != nil {
			return nil, err
		}
	}
	return out, nil
}
