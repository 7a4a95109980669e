package buildwire

import (
	"fmt"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/build"
	"halfshaft/services/drivetrain"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Release reads a specification release.
func Release(p *buildv1.Release) (build.Release, error) {
	var r reader
	release := build.Release{
		Title:     p.GetTitle(),
		Effective: r.date("effective_date", p.GetEffectiveDate()),
		Fitments:  r.fitments("fitments", p.GetFitments()),
		Programme: r.id("programme", "programmes/{programme}", p.GetProgramme()),
		Driveline: r.driveline(p.GetDriveline()),
		Notes:     p.GetNotes(),
		Created:   r.moment("create_time", p.GetCreateTime()),
	}
	if ids, err := resname.Match("name", "releases/{release}", p.GetName()); err != nil {
		r.refuse("name", err)
	} else {
		release.ID = ids[0]
	}
	for i, o := range p.GetOptions() {
		release.Options = append(release.Options, build.Option{
			ID: o.GetOptionId(), Title: o.GetTitle(), Fitments: r.fitments(vehiclewire.At("options", i, "fitments"), o.GetFitments()),
			Removes: o.GetRemoves(), Requires: o.GetRequires(), Excludes: o.GetExcludes(),
		})
	}
	return release, r.err()
}

func (r *reader) fitments(list string, from []*buildv1.Fitment) []build.Fitment {
	var out []build.Fitment
	for i, f := range from {
		out = append(out, build.Fitment{
			Position: f.GetPosition(), Part: f.GetPart(), Quantity: int(f.GetQuantity()),
			Traits: f.GetTraits(), Note: f.GetNote(), Ratios: r.decimals(vehiclewire.At(list, i, "ratios"), f.GetRatios()),
			Within: f.GetWithin(),
		})
	}
	return out
}

func (r *reader) driveline(d *buildv1.Driveline) build.Driveline {
	line := build.Driveline{
		TransferHigh: r.decimal("driveline.transfer_high", d.GetTransferHigh()),
		TransferLow:  r.decimal("driveline.transfer_low", d.GetTransferLow()),
		Tyre:         vehiclewire.Tyre(d.GetTyre()),
		Drive:        vehiclewire.Drive(d.GetSpeedometerDrive(), r.decimal("driveline.axle_ratio", d.GetAxleRatio())),
		Dial:         vehiclewire.Dial(d.GetDial()),
		Gears:        r.decimals("driveline.gears", d.GetGears()),
		Drives:       Teeth(d.GetAvailableSpeedometerDrives()),
		Sample:       d.GetSample(),
	}
	for _, g := range d.GetSynchronisedGears() {
		line.Synchronised = append(line.Synchronised, int(g))
	}
	return line
}

func (r *reader) decimals(list string, texts []string) []vehicle.Decimal {
	var out []vehicle.Decimal
	for i, text := range texts {
		out = append(out, r.decimal(fmt.Sprintf("%s[%d]", list, i), text))
	}
	return out
}

// Teeth reads pairs of speedometer drive gears.
func Teeth(from []*vehiclev1.SpeedometerDrive) []drivetrain.Teeth {
	var out []drivetrain.Teeth
	for _, d := range from {
		out = append(out, drivetrain.Teeth{Driver: int(d.GetDriverTeeth()), Driven: int(d.GetDrivenTeeth())})
	}
	return out
}

// ReleaseProto writes a specification release; the etag is the store's to add.
func ReleaseProto(r build.Release) *buildv1.Release {
	p := &buildv1.Release{
		Name: build.ReleaseName(r.ID), Title: r.Title, EffectiveDate: vehiclewire.DateProto(r.Effective),
		Fitments: fitmentProtos(r.Fitments), Programme: build.ProgrammeName(r.Programme),
		Driveline: drivelineProto(r.Driveline), Notes: r.Notes, CreateTime: vehiclewire.MomentProto(r.Created),
	}
	for _, o := range r.Options {
		p.Options = append(p.Options, &buildv1.Option{
			OptionId: o.ID, Title: o.Title, Fitments: fitmentProtos(o.Fitments),
			Removes: o.Removes, Requires: o.Requires, Excludes: o.Excludes,
		})
	}
	return p
}

func fitmentProtos(from []build.Fitment) []*buildv1.Fitment {
	var out []*buildv1.Fitment
	for _, f := range from {
		out = append(out, &buildv1.Fitment{
			Position: f.Position, Part: f.Part, Quantity: int32(f.Quantity), Traits: f.Traits, Note: f.Note,
			Ratios: decimalTexts(f.Ratios), Within: f.Within,
		})
	}
	return out
}

func drivelineProto(d build.Driveline) *buildv1.Driveline {
	p := &buildv1.Driveline{
		TransferHigh: decimalText(d.TransferHigh), TransferLow: decimalText(d.TransferLow),
		AxleRatio: decimalText(d.Drive.AxleRatio), Tyre: vehiclewire.TyreProto(d.Tyre),
		SpeedometerDrive: vehiclewire.DriveProto(d.Drive), Dial: vehiclewire.DialProto(d.Dial),
		Gears: decimalTexts(d.Gears), Sample: d.Sample,
	}
	for _, pair := range d.Drives {
		p.AvailableSpeedometerDrives = append(p.AvailableSpeedometerDrives, teethProto(pair))
	}
	for _, g := range d.Synchronised {
		p.SynchronisedGears = append(p.SynchronisedGears, int32(g))
	}
	return p
}

func teethProto(t drivetrain.Teeth) *vehiclev1.SpeedometerDrive {
	return &vehiclev1.SpeedometerDrive{DriverTeeth: int32(t.Driver), DrivenTeeth: int32(t.Driven)}
}

func decimalTexts(from []vehicle.Decimal) []string {
	var out []string
	for _, d := range from {
		out = append(out, d.String())
	}
	return out
}
