package buildwire

import (
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/vehicle/vehiclewire"
)

// ConfigurationProto writes what is on a vehicle, with the reasons in words.
func ConfigurationProto(c build.Configuration) *buildv1.Configuration {
	p := &buildv1.Configuration{
		Build: build.Name(c.Serial), OnDate: vehiclewire.DateProto(c.On), AsBuilt: c.AsBuilt,
		Release: build.ReleaseName(c.Release), Options: c.Options, OptionTitles: c.Titles,
		Tyre: vehiclewire.TyreProto(c.Tyre), AxleRatio: decimalText(c.Drive.AxleRatio),
		SpeedometerDrive: vehiclewire.DriveProto(c.Drive), Dial: vehiclewire.DialProto(c.Dial),
		Wheelbase: c.Wheelbase, Market: c.Market, Plate: c.Plate, Programme: build.ProgrammeName(c.Programme),
	}
	for i := range c.Fitted {
		f := &c.Fitted[i]
		p.Fitted = append(p.Fitted, &buildv1.Fitted{
			Component: ComponentProto(f.Component), Quantity: int32(f.Quantity), Origin: buildv1.FittedOrigin(f.Origin),
			Change: f.Change, Release: build.ReleaseName(f.Release), Standard: f.Standard,
			Reasons: vehiclewire.Reasons(f.Reasons()), TraitsOrigin: buildv1.TraitsOrigin(f.TraitsFrom),
		})
	}
	return p
}
