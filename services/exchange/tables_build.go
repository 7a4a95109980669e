package exchange

import buildv1 "halfshaft/proto/halfshaft/build/v1"

// The columns that many tables begin or end with.
var (
	serialKey   = Column{Name: "serial", Key: "serial", Kind: Serial, Required: true, Doc: "the vehicle's serial with its check character"}
	serialKnown = Column{Name: "serial", Key: "serial", Kind: Serial, Required: true, Ref: RefVehicle, Identity: true, Doc: "the vehicle's serial with its check character"}
	idKey       = Column{Name: "id", Key: "id", Kind: Word, Doc: "identifier of the record; made from the columns marked * when empty"}
	recordedBy  = Column{Name: "recorded by", Path: "recorded_by", Given: true, Doc: "who recorded it; filled in when empty"}
	createTime  = Column{Name: "create time", Path: "create_time", Kind: Stamp, Given: true, Doc: "when the record was made; filled in when empty"}
)

// driveColumns are what stands between engine and road, in a build or a change.
func driveColumns() []Column {
	return []Column{
		{Name: "tyre size", Path: "tyre.size", Doc: "as moulded on the wall: 7.50-16"},
		{Name: "tyre pattern", Path: "tyre.pattern", Doc: "the works' own name for the tread"},
		{Name: "tyre circumference mm", Path: "tyre.circumference_mm", Kind: Whole, Doc: "rolling circumference, where it was measured; empty to look it up by size and pattern"},
		{Name: "axle ratio", Path: "axle_ratio", Kind: Number, Doc: "4.70"},
		{Name: "speedometer driver teeth", Path: "speedometer_drive.driver_teeth", Kind: Whole, Doc: "teeth of the gear on the output shaft"},
		{Name: "speedometer driven teeth", Path: "speedometer_drive.driven_teeth", Kind: Whole, Doc: "teeth of the gear on the cable"},
		{Name: "dial digits", Path: "dial.digits", Kind: Whole, Doc: "whole digits of the odometer, the tenths wheel not counted"},
		{Name: "dial unit", Path: "dial.unit", Doc: "mi or km"},
		{Name: "dial turns per unit", Path: "dial.turns_per_unit", Kind: Whole, Doc: "cable turns for one mile or kilometre"},
		{Name: "dial tenths", Path: "dial.tenths", Kind: Flag, Doc: "whether a further wheel shows tenths"},
	}
}

// componentColumns describe one real unit; under is the path to it.
func componentColumns(under string) []Column {
	return []Column{
		{Name: "position", Path: under + "position", Kind: Word, Ref: RefPosition, Identity: true, Doc: "as in the release: transfer-case"},
		{Name: "part", Path: under + "part", Kind: Word, Ref: RefPart, Doc: "part number; empty for the part that release and options give"},
		{Name: "component serial", Path: under + "serial", Kind: Word, Doc: "the unit's own serial"},
		{Name: "lot", Path: under + "lot", Kind: Word, Doc: "the lot it came from"},
		{Name: "fitted date", Path: under + "fitted_date", Kind: Date, Doc: "the day it was fitted here"},
		{Name: "prior distance", Path: under + "prior_distance", Kind: Distance, Doc: "what it had covered before; empty for new"},
		{Name: "bedding in date", Path: under + "bedding_in_date", Kind: Date, Doc: "when its bedding-in began, if not when it was fitted"},
		{Name: "traits", Path: under + "traits", Kind: Words, Doc: "what it is like, where that differs from the release"},
		{Name: "note", Path: under + "note"},
	}
}

func buildTables() []*Table {
	return []*Table{
		buildsTable(), componentsTable(), measurementsTable(), fluidsTable(), deviationsTable(), roadTestTable(), changesTable(),
	}
}

func buildsTable() *Table {
	columns := []Column{
		serialKey,
		{Name: "frame number", Path: "frame_number", Kind: Word, Doc: "as stamped on the donor's frame"},
		{Name: "release", Path: "release", Kind: Word, Prefix: "releases/", Ref: RefRelease, Required: true, Doc: "the release it was built to: R3"},
		{Name: "options", Path: "options", Kind: Words, Ref: RefOption, Doc: "options it was built with"},
		{Name: "wheelbase", Path: "wheelbase", Doc: "short or long"},
		{Name: "market", Path: "market", Doc: "country code: GB"},
		{Name: "donor year", Path: "donor_year", Kind: Whole, Doc: "year of the donor vehicle"},
	}
	columns = append(columns, driveColumns()...)
	columns = append(columns,
		Column{Name: "delivery reading", Path: "delivery_reading", Kind: Distance, Doc: "what the odometer showed at delivery"},
		Column{Name: "finish", Path: "finish", Kind: Choice, Doc: "the donor's own surface"},
		Column{Name: "finish note", Path: "finish_note", Doc: "colour, what was kept"},
		Column{Name: "key numbers", Path: "key_numbers", Kind: Lines, Doc: "as cut"},
		Column{Name: "plate", Path: "plate", Kind: Word, Doc: "registration plate as last known"},
		Column{Name: "build date", Path: "build_date", Kind: Date, Required: true, Doc: "the day the build was finished"},
		Column{Name: "delivery date", Path: "delivery_date", Kind: Date, Doc: "the day it was handed over"},
		createTime,
	)
	return &Table{
		Name: "builds", Service: Build, wrap: "build", frozen: true,
		Doc:     "One row for each vehicle, as it left the works. `halfshaft serial AM0165` tells the check character of a new number, and whether it can be used; with `--count 20` it lists the next serials that can.",
		message: (&buildv1.Build{}).ProtoReflect().Type(), pattern: "builds/{serial}", Columns: columns,
	}
}

func componentsTable() *Table {
	columns := append([]Column{serialKey}, componentColumns("")...)
	columns[1].Required = true
	return &Table{
		Name: "components", Service: Build, parent: "builds", field: "components",
		Doc:     "Units whose own serial, lot, fitting date or distance the works recorded. What is not listed stands as the release and the options say.",
		message: (&buildv1.Component{}).ProtoReflect().Type(), pattern: "builds/{serial}", Columns: columns,
	}
}

func measurementsTable() *Table {
	return &Table{
		Name: "measurements", Service: Build, parent: "builds", field: "measurements",
		Doc:     "What was measured at the build.",
		message: (&buildv1.Measurement{}).ProtoReflect().Type(), pattern: "builds/{serial}",
		Columns: []Column{
			serialKey,
			{Name: "position", Path: "position", Kind: Word, Ref: RefPosition, Required: true, Doc: "where it was measured"},
			{Name: "characteristic", Path: "characteristic", Required: true, Doc: "end-float, preload, shim-pack, torque"},
			{Name: "value", Path: "value", Kind: Measure, Required: true, Doc: "as read, with its unit: 0.10 mm"},
			{Name: "measured date", Path: "measured_date", Kind: Date},
			{Name: "measured by", Path: "measured_by"},
			{Name: "instrument", Path: "instrument"},
		},
	}
}

func fluidsTable() *Table {
	return &Table{
		Name: "fluids", Service: Build, parent: "builds", field: "fluids",
		Doc:     "What was filled in at the build.",
		message: (&buildv1.FluidFill{}).ProtoReflect().Type(), pattern: "builds/{serial}",
		Columns: []Column{
			serialKey,
			{Name: "position", Path: "position", Kind: Word, Ref: RefPosition, Required: true, Doc: "where it was filled in"},
			{Name: "fluid", Path: "fluid", Required: true, Doc: "class and grade: SAE 80W-90 API GL-5"},
			{Name: "quantity", Path: "quantity", Kind: Measure, Doc: "how much: 1.3 l"},
			{Name: "batch", Path: "batch", Kind: Word, Doc: "as on the drum"},
		},
	}
}

func deviationsTable() *Table {
	return &Table{
		Name: "deviations", Service: Build, parent: "builds", field: "deviations",
		Doc:     "Approved departures from the release.",
		message: (&buildv1.Deviation{}).ProtoReflect().Type(), pattern: "builds/{serial}",
		Columns: []Column{
			serialKey,
			{Name: "deviation", Path: "deviation_id", Kind: Word, Required: true, Doc: "unique in the build: D1"},
			{Name: "position", Path: "position", Kind: Word, Ref: RefPosition, Doc: "empty for the whole vehicle"},
			{Name: "text", Path: "text", Required: true, Doc: "what differs and why"},
			{Name: "approved by", Path: "approved_by", Required: true},
			{Name: "approved date", Path: "approved_date", Kind: Date, Required: true},
		},
	}
}

func roadTestTable() *Table {
	return &Table{
		Name: "road test", Service: Build, parent: "builds", field: "road_test",
		Doc:     "The road-test log, in the order driven.",
		message: (&buildv1.RoadTestLine{}).ProtoReflect().Type(), pattern: "builds/{serial}",
		Columns: []Column{
			serialKey,
			{Name: "test date", Path: "test_date", Kind: Date, Required: true},
			{Name: "reading", Path: "reading", Kind: Distance, Doc: "what the odometer showed"},
			{Name: "text", Path: "text", Required: true, Doc: "what was found and done"},
			{Name: "driver", Path: "driver"},
		},
	}
}

func changesTable() *Table {
	component := componentColumns("component.")
	component[8].Name, component[8].Doc = "component note", "words about the unit"
	columns := []Column{
		serialKnown, idKey,
		{Name: "kind", Path: "kind", Kind: Choice, Required: true, Identity: true, Doc: "what happened"},
		{Name: "change date", Path: "change_date", Kind: Date, Required: true, Identity: true},
		{Name: "source", Path: "source", Kind: Choice, Doc: "under which authority; empty for a plate only"},
	}
	columns = append(columns, component...)
	columns = append(columns, driveColumns()...)
	columns = append(columns,
		Column{Name: "dial start", Path: "dial_start", Kind: Distance, Doc: "what a new dial showed when fitted"},
		Column{Name: "reading", Path: "reading", Kind: Distance, Doc: "what the odometer showed at the change"},
		Column{Name: "release", Path: "release", Kind: Word, Prefix: "releases/", Ref: RefRelease, Identity: true, Doc: "for an upgrade: the release that the positions were brought to"},
		Column{Name: "positions", Path: "positions", Kind: Words, Ref: RefPosition, Doc: "for an upgrade"},
		Column{Name: "option", Path: "option", Kind: Word, Ref: RefOption, Identity: true, Doc: "for an option added or removed"},
		Column{Name: "plate", Path: "plate", Kind: Word, Doc: "for a plate: the new one"},
		Column{Name: "reason", Path: "reason"},
		Column{Name: "done by", Path: "done_by"},
		Column{Name: "counterpart", Path: "counterpart", Given: true, Doc: "the other half of a move; filled in by the service"},
		recordedBy, createTime,
	)
	return &Table{
		Name: "changes", Service: Build, wrap: "change", frozen: true,
		Doc:     "What happened to a vehicle after the build.",
		message: (&buildv1.Change{}).ProtoReflect().Type(), pattern: "builds/{serial}/changes/{id}", Columns: columns,
	}
}
