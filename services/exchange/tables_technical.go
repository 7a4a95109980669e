package exchange

import partsv1 "halfshaft/proto/halfshaft/parts/v1"

// technicalTables describe what belongs where: positions, applications,
// settings with their shims, and capacities.
func technicalTables() []*Table {
	return []*Table{positionsTable(), applicationsTable(), settingsTable(), shimSizesTable(), capacitiesTable()}
}

func positionsTable() *Table {
	return &Table{
		Name: "positions", Service: Parts, wrap: "position",
		Doc:     "Places on assemblies that the releases do not name themselves; and words, tools and cautions for those that they do.",
		message: (&partsv1.Position{}).ProtoReflect().Type(), pattern: "positions/{id}",
		Columns: []Column{
			{Name: "position", Key: "id", Kind: Word, Required: true, Doc: "lower-case words joined by hyphens: front-axle-differential-pinion-seal"},
			{Name: "title", Path: "title", Required: true, Doc: "what it is called on a page"},
			{Name: "within", Path: "within", Kind: Word, Ref: RefPosition, Doc: "the position of the assembly that it is on; empty for one that the releases name"},
			{Name: "words", Path: "words", Kind: Lines, Doc: "other words people use for it"},
			{Name: "tools", Path: "tools", Kind: Lines, Doc: "special tools that work there asks for"},
			{Name: "caution", Path: "caution", Doc: "where work there can hurt, what to mind"},
			{Name: "drawing", Path: "drawing", Kind: Word, Doc: "the drawing or plate that shows it"},
			{Name: "notes", Path: "notes"},
			withdrawn, createTime,
		},
	}
}

// conditionColumns say for which vehicles a row holds.
func conditionColumns() []Column {
	return []Column{
		{Name: "releases", Path: "conditions.releases", Kind: Words, Prefix: "releases/", Ref: RefRelease, Doc: "whose standard the position follows; empty for all"},
		{Name: "options", Path: "conditions.options", Kind: Words, Doc: "options that must be in force"},
		{Name: "without options", Path: "conditions.without_options", Kind: Words, Doc: "options that must not be"},
		{Name: "applies when", Path: "conditions.applies_when", Doc: "a CEL expression over release, options, fitted, wheelbase, market, axle_ratio, speedometer_drive and tyre_size"},
		{Name: "first serial", Path: "conditions.first_serial", Kind: Serial, Doc: "of a range; empty for no beginning"},
		{Name: "last serial", Path: "conditions.last_serial", Kind: Serial, Doc: "itself included; empty for no end"},
		{Name: "except serials", Path: "conditions.except_serials", Kind: Words, Doc: "within the range"},
		{Name: "built from", Path: "conditions.built_from_date", Kind: Date, Doc: "built on this day or later"},
		{Name: "built until", Path: "conditions.built_until_date", Kind: Date, Doc: "built on this day or earlier"},
		{Name: "markets", Path: "conditions.markets", Kind: Words, Doc: "empty for all"},
		{Name: "lots", Path: "conditions.lots", Kind: Words, Doc: "of the component there or of its assembly, one of which must be on record"},
		{Name: "together with", Path: "conditions.together_with", Kind: Words, Prefix: "parts/", Ref: RefPart, Doc: "parts that must all be on the vehicle, or what took their place"},
		{Name: "otherwise", Path: "conditions.otherwise", Kind: Flag, Doc: "whether the row holds where no other row of the position does"},
	}
}

// technicalColumns are those of every value of the technical data.
func technicalColumns() []Column {
	return []Column{
		{Name: "caution", Path: "caution", Doc: "what can hurt, and what to do against it"},
		{Name: "doc ref", Path: "doc_ref", Doc: "where the work is described"},
		{Name: "source mark", Path: "source_mark", Kind: Word, Doc: "a published, b trade practice, c from memory"},
		{Name: "sample", Path: "sample", Kind: Flag, Required: true, Doc: "yes while no engineer has signed the value, no once one has"},
		withdrawn, createTime,
	}
}

func applicationsTable() *Table {
	return &Table{
		Name: "applications", Service: Parts, wrap: "application",
		Doc:     "Which part belongs at a position of which vehicles. Of the rows of one position exactly one must hold for each vehicle.",
		message: (&partsv1.Application{}).ProtoReflect().Type(), pattern: "applications/{id}",
		Columns: append(append([]Column{
			{Name: "id", Key: "id", Kind: Word, Required: true, Doc: "its identifier: A0147"},
			{Name: "position", Path: "position", Kind: Word, Ref: RefPosition, Required: true},
			{Name: "part", Path: "part", Kind: Word, Prefix: "parts/", Ref: RefPart, Doc: "empty where nothing is supplied; then text says why"},
			{Name: "quantity", Path: "quantity", Kind: Whole, Doc: "empty for 1"},
		}, conditionColumns()...), Column{Name: "text", Path: "text", Doc: "why, or what to order instead"}, withdrawn, createTime),
	}
}

func settingsTable() *Table {
	columns := append([]Column{
		{Name: "id", Key: "id", Kind: Word, Required: true, Doc: "its identifier: T0031"},
		{Name: "position", Path: "position", Kind: Word, Ref: RefPosition, Required: true},
		{Name: "characteristic", Path: "characteristic", Kind: Word, Required: true, Doc: "what is set: end-float, torque"},
		{Name: "subject", Path: "subject", Doc: "of what, where a position has several: housing bolts"},
		{Name: "unit", Path: "unit", Required: true, Doc: "mm, N.m, psi, kgf"},
		{Name: "lower", Path: "lower", Kind: Number, Doc: "lower end of the window"},
		{Name: "target", Path: "target", Kind: Number, Doc: "what to aim at; empty for the middle"},
		{Name: "upper", Path: "upper", Kind: Number, Doc: "upper end of the window"},
	}, conditionColumns()...)
	columns = append(columns,
		Column{Name: "method", Path: "method", Doc: "how it is set: cold, in which order"},
		Column{Name: "tools", Path: "tools", Kind: Lines, Doc: "special tools"},
		Column{Name: "shim sign", Path: "shims.sign", Kind: Choice, Doc: "what a thicker pack of shims does, where it is set with shims"},
		Column{Name: "load per mm", Path: "shims.load_per_mm", Kind: Number, Doc: "for a setting that is a load: its change for each millimetre of shim"},
		Column{Name: "largest shim count", Path: "shims.largest_count", Kind: Whole, Doc: "the most shims of one pack; empty for 6"},
		Column{Name: "shim rule", Path: "shims.rule", Kind: Choice, Doc: "how to choose among packs; empty for the fewest, then the nearest"},
	)
	return &Table{
		Name: "settings", Service: Parts, wrap: "setting",
		Doc:     "What things are set, adjusted and tightened to when they are put together. The limits of later checks are in the service programme.",
		message: (&partsv1.Setting{}).ProtoReflect().Type(), pattern: "settings/{id}",
		Columns: append(columns, technicalColumns()...),
	}
}

func shimSizesTable() *Table {
	return &Table{
		Name: "shim sizes", Service: Parts, parent: "settings", field: "shim_sizes",
		Doc:     "The shims that there are for a setting.",
		message: (&partsv1.ShimSize{}).ProtoReflect().Type(), pattern: "settings/{id}",
		Columns: []Column{
			{Name: "setting", Key: "id", Kind: Word, Required: true, Doc: "identifier of the setting"},
			{Name: "thickness", Path: "thickness", Kind: Measure, Required: true, Doc: "0.13 mm, 5 thou"},
			{Name: "part", Path: "part", Kind: Word, Prefix: "parts/", Ref: RefPart},
			{Name: "stock", Path: "stock", Kind: Whole, Doc: "how many there are; empty when there are always enough"},
		},
	}
}

func capacitiesTable() *Table {
	columns := append([]Column{
		{Name: "id", Key: "id", Kind: Word, Required: true, Doc: "its identifier: F012"},
		{Name: "position", Path: "position", Kind: Word, Ref: RefPosition, Required: true},
		{Name: "fluid", Path: "fluid", Required: true, Doc: "class and grade: SAE 80W-90 API GL-5"},
		{Name: "family", Path: "family", Kind: Word, Required: true, Doc: "one word for its kind: brake-fluid-glycol"},
		{Name: "quantity", Path: "quantity", Kind: Measure, Required: true, Doc: "how much: 1.4 l"},
		{Name: "method", Path: "method", Doc: "to the level plug; a fixed charge"},
		{Name: "never mix", Path: "never_mix", Kind: Words, Doc: "families that it must never be mixed with"},
	}, conditionColumns()...)
	return &Table{
		Name: "capacities", Service: Parts, wrap: "capacity",
		Doc:     "Which fluid belongs where, and how much of it.",
		message: (&partsv1.Capacity{}).ProtoReflect().Type(), pattern: "capacities/{id}",
		Columns: append(columns, technicalColumns()...),
	}
}
