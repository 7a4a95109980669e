package buildwire

import (
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle/vehiclewire"
)

// Record reads a build record.
func Record(b *buildv1.Build) (build.Record, error) {
	var r reader
	serial, _, err := resname.Serial("name", "builds/{serial}", b.GetName())
	r.refuse("name", err)
	rec := build.Record{
		Serial:          serial,
		FrameNumber:     b.GetFrameNumber(),
		Release:         r.id("release", "releases/{release}", b.GetRelease()),
		Options:         b.GetOptions(),
		Wheelbase:       b.GetWheelbase(),
		Market:          b.GetMarket(),
		DonorYear:       int(b.GetDonorYear()),
		Tyre:            vehiclewire.Tyre(b.GetTyre()),
		Drive:           vehiclewire.Drive(b.GetSpeedometerDrive(), r.decimal("axle_ratio", b.GetAxleRatio())),
		Dial:            vehiclewire.Dial(b.GetDial()),
		DeliveryReading: r.entered("delivery_reading", b.GetDeliveryReading()),
		Finish:          build.Finish(b.GetFinish()),
		FinishNote:      b.GetFinishNote(),
		KeyNumbers:      b.GetKeyNumbers(),
		Plate:           b.GetPlate(),
		Built:           r.date("build_date", b.GetBuildDate()),
		Delivered:       r.date("delivery_date", b.GetDeliveryDate()),
		Created:         r.moment("create_time", b.GetCreateTime()),
	}
	r.lists(&rec, b)
	return rec, r.err()
}

// lists reads the repeated parts of a record.
func (r *reader) lists(rec *build.Record, b *buildv1.Build) {
	for i, c := range b.GetComponents() {
		rec.Components = append(rec.Components, r.component(vehiclewire.At("components", i, ""), c))
	}
	for i, m := range b.GetMeasurements() {
		rec.Measurements = append(rec.Measurements, build.Measurement{
			Position: m.GetPosition(), Characteristic: m.GetCharacteristic(),
			Value:      r.quantity(vehiclewire.At("measurements", i, "value"), m.GetValue()),
			Measured:   r.date(vehiclewire.At("measurements", i, "measured_date"), m.GetMeasuredDate()),
			MeasuredBy: m.GetMeasuredBy(), Instrument: m.GetInstrument(),
		})
	}
	for i, f := range b.GetFluids() {
		rec.Fluids = append(rec.Fluids, build.FluidFill{
			Position: f.GetPosition(), Fluid: f.GetFluid(),
			Quantity: r.quantity(vehiclewire.At("fluids", i, "quantity"), f.GetQuantity()), Batch: f.GetBatch(),
		})
	}
	for i, d := range b.GetDeviations() {
		rec.Deviations = append(rec.Deviations, build.Deviation{
			ID: d.GetDeviationId(), Position: d.GetPosition(), Text: d.GetText(), ApprovedBy: d.GetApprovedBy(),
			Approved: r.date(vehiclewire.At("deviations", i, "approved_date"), d.GetApprovedDate()),
		})
	}
	for i, l := range b.GetRoadTest() {
		rec.RoadTest = append(rec.RoadTest, build.RoadTestLine{
			Tested:  r.date(vehiclewire.At("road_test", i, "test_date"), l.GetTestDate()),
			Reading: r.entered(vehiclewire.At("road_test", i, "reading"), l.GetReading()),
			Text:    l.GetText(), Driver: l.GetDriver(),
		})
	}
}

// component reads a unit; path ends in a dot.
func (r *reader) component(path string, c *buildv1.Component) build.Component {
	return build.Component{
		Position: c.GetPosition(), Part: c.GetPart(), Serial: c.GetSerial(), Lot: c.GetLot(),
		Fitted:    r.date(path+"fitted_date", c.GetFittedDate()),
		Prior:     r.entered(path+"prior_distance", c.GetPriorDistance()),
		BeddingIn: r.date(path+"bedding_in_date", c.GetBeddingInDate()),
		Traits:    c.GetTraits(), Note: c.GetNote(),
	}
}

// RecordProto writes a build record; the etag is the store's to add.
func RecordProto(rec build.Record) *buildv1.Build {
	b := &buildv1.Build{
		Name:             build.Name(rec.Serial),
		FrameNumber:      rec.FrameNumber,
		Release:          build.ReleaseName(rec.Release),
		Options:          rec.Options,
		Wheelbase:        rec.Wheelbase,
		Market:           rec.Market,
		DonorYear:        int32(rec.DonorYear),
		Tyre:             vehiclewire.TyreProto(rec.Tyre),
		AxleRatio:        decimalText(rec.Drive.AxleRatio),
		SpeedometerDrive: vehiclewire.DriveProto(rec.Drive),
		Dial:             vehiclewire.DialProto(rec.Dial),
		DeliveryReading:  vehiclewire.EnteredProto(rec.DeliveryReading),
		Finish:           buildv1.Finish(rec.Finish),
		FinishNote:       rec.FinishNote,
		KeyNumbers:       rec.KeyNumbers,
		Plate:            rec.Plate,
		BuildDate:        vehiclewire.DateProto(rec.Built),
		DeliveryDate:     vehiclewire.DateProto(rec.Delivered),
		CreateTime:       vehiclewire.MomentProto(rec.Created),
	}
	for _, c := range rec.Components {
		b.Components = append(b.Components, ComponentProto(c))
	}
	for _, m := range rec.Measurements {
		b.Measurements = append(b.Measurements, &buildv1.Measurement{
			Position: m.Position, Characteristic: m.Characteristic, Value: vehiclewire.QuantityProto(m.Value),
			MeasuredDate: vehiclewire.DateProto(m.Measured), MeasuredBy: m.MeasuredBy, Instrument: m.Instrument,
		})
	}
	for _, f := range rec.Fluids {
		b.Fluids = append(b.Fluids, &buildv1.FluidFill{
			Position: f.Position, Fluid: f.Fluid, Quantity: vehiclewire.QuantityProto(f.Quantity), Batch: f.Batch,
		})
	}
	for _, d := range rec.Deviations {
		b.Deviations = append(b.Deviations, &buildv1.Deviation{
			DeviationId: d.ID, Position: d.Position, Text: d.Text,
			ApprovedBy: d.ApprovedBy, ApprovedDate: vehiclewire.DateProto(d.Approved),
		})
	}
	for _, l := range rec.RoadTest {
		b.RoadTest = append(b.RoadTest, &buildv1.RoadTestLine{
			TestDate: vehiclewire.DateProto(l.Tested), Reading: vehiclewire.EnteredProto(l.Reading),
			Text: l.Text, Driver: l.Driver,
		})
	}
	return b
}

// ComponentProto writes a unit; one that is nothing is absent.
func ComponentProto(c build.Component) *buildv1.Component {
	if c.Position == "" && c.Part == "" && c.Serial == "" {
		return nil
	}
	return &buildv1.Component{
		Position: c.Position, Part: c.Part, Serial: c.Serial, Lot: c.Lot,
		FittedDate: vehiclewire.DateProto(c.Fitted), PriorDistance: vehiclewire.EnteredProto(c.Prior),
		BeddingInDate: vehiclewire.DateProto(c.BeddingIn), Traits: c.Traits, Note: c.Note,
	}
}
