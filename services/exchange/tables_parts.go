package exchange

import partsv1 "halfshaft/proto/halfshaft/parts/v1"

func partsTables() []*Table {
	return append([]*Table{partsTable(), kitTable("kit contents", "contents", "What a kit holds."),
		kitTable("renew with", "renew_with", "What must be renewed with a part: gasket, seal, locking tabs."),
		dimensionsTable(), supersessionsTable(), newPartsTable()}, technicalTables()...)
}

// withdrawn takes a record of the catalogue out; an export never has it.
var withdrawn = Column{Name: "withdrawn", Path: "withdrawn", Kind: Flag, Alone: true, Doc: "yes takes a record out that was a mistake"}

func partsTable() *Table {
	return &Table{
		Name: "parts", Service: Parts, wrap: "part",
		Doc:     "The catalogue. A row for a part that is there already replaces what is known of it.",
		message: (&partsv1.Part{}).ProtoReflect().Type(), pattern: "parts/{part}",
		Columns: []Column{
			{Name: "part", Key: "part", Kind: Word, Required: true, Doc: "part number of the works: AP-2041"},
			{Name: "title", Path: "title", Required: true, Doc: "as printed on the label"},
			{Name: "words", Path: "words", Kind: Lines, Doc: "other words people use for it"},
			{Name: "positions", Path: "positions", Kind: Words, Ref: RefPosition, Doc: "where it may stand"},
			{Name: "hand", Path: "hand", Kind: Choice, Doc: "on which side it belongs"},
			{Name: "unit", Path: "unit", Doc: "each, set, l"},
			{Name: "minimum quantity", Path: "minimum_quantity", Kind: Whole, Doc: "the least that can be ordered"},
			{Name: "status", Path: "status", Kind: Choice, Required: true, Doc: "whether it can be had"},
			{Name: "drawing", Path: "drawing", Kind: Word, Doc: "the drawing it is made after, and can be remade from"},
			{Name: "other numbers", Path: "other_numbers", Kind: Lines, Doc: "numbers it is or was known by elsewhere"},
			{Name: "weight", Path: "weight", Kind: Measure, Doc: "of one: 0.12 kg"},
			{Name: "contents", Path: "contents", Kind: Kit, Ref: RefPart, Alone: true, Doc: "what a kit holds, in a cell instead of the table kit contents"},
			{Name: "renew with", Path: "renew_with", Kind: Kit, Ref: RefPart, Alone: true, Doc: "in a cell instead of the table renew with"},
			{Name: "releases", Path: "releases", Kind: Words, Prefix: "releases/", Ref: RefRelease, Doc: "empty for every release whose positions name it"},
			{Name: "caution", Path: "caution", Doc: "where it can hurt, what to mind"},
			{Name: "notes", Path: "notes"},
			{Name: "traits", Path: "traits", Kind: Words, Doc: "what it is like, as far as the service programme asks"},
			withdrawn, createTime,
		},
	}
}

// kitTable describes the lines of a part that name other parts.
func kitTable(name, field, doc string) *Table {
	return &Table{
		Name: name, Service: Parts, parent: "parts", field: field, Doc: doc,
		message: (&partsv1.KitLine{}).ProtoReflect().Type(), pattern: "parts/{part}",
		Columns: []Column{
			{Name: "part", Key: "part", Kind: Word, Required: true, Doc: "the part that the line belongs to"},
			{Name: "line part", Path: "part", Kind: Word, Prefix: "parts/", Ref: RefPart, Required: true, Doc: "the part in the line"},
			{Name: "quantity", Path: "quantity", Kind: Whole, Default: "1", Doc: "empty for 1"},
		},
	}
}

func dimensionsTable() *Table {
	return &Table{
		Name: "dimensions", Service: Parts, parent: "parts", field: "dimensions", Doc: "The sizes of a part, as far as they tell it from others.",
		message: (&partsv1.Dimension{}).ProtoReflect().Type(), pattern: "parts/{part}",
		Columns: []Column{
			{Name: "part", Key: "part", Kind: Word, Required: true, Doc: "the part that the line belongs to"},
			{Name: "dimension", Path: "title", Required: true, Doc: "what is measured: length, bore, thread"},
			{Name: "size", Path: "size", Required: true, Doc: "with its unit, 52 mm; or the name of a thread, M8"},
		},
	}
}

func supersessionsTable() *Table {
	return &Table{
		Name: "supersessions", Service: Parts, wrap: "supersession",
		Doc:     "Which part takes the place of which.",
		message: (&partsv1.Supersession{}).ProtoReflect().Type(), pattern: "supersessions/{id}",
		Columns: []Column{
			idKey,
			{Name: "old part", Path: "old_part", Kind: Word, Prefix: "parts/", Ref: RefPart, Required: true, Identity: true, Doc: "the part that goes"},
			{Name: "new parts", Path: "new_parts", Kind: Kit, Ref: RefPart, Alone: true, Doc: "what takes its place, in a cell instead of the table new parts"},
			{Name: "effective date", Path: "effective_date", Kind: Date, Identity: true, Doc: "from this day on"},
			{Name: "two way", Path: "two_way", Kind: Flag, Doc: "whether the old one may also stand in for the new one"},
			{Name: "releases", Path: "releases", Kind: Words, Prefix: "releases/", Ref: RefRelease, Identity: true, Doc: "empty for all"},
			{Name: "together with", Path: "together_with", Kind: Words, Prefix: "parts/", Ref: RefPart, Doc: "parts that must be fitted too for it to hold"},
			{Name: "also old parts", Path: "also_old_parts", Kind: Words, Prefix: "parts/", Ref: RefPart, Doc: "further parts that go at the same time: a merge"},
			{Name: "old stock", Path: "old_stock", Kind: Choice, Doc: "what happens to stock of the number that goes"},
			{Name: "text", Path: "text", Doc: "what was changed and why"},
			withdrawn, createTime,
		},
	}
}

func newPartsTable() *Table {
	return &Table{
		Name: "new parts", Service: Parts, parent: "supersessions", field: "new_parts",
		Doc:     "What takes the place of a superseded part: more than one line when it is split.",
		message: (&partsv1.KitLine{}).ProtoReflect().Type(), pattern: "supersessions/{id}",
		Columns: []Column{
			{Name: "supersession", Key: "id", Kind: Word, Required: true, Doc: "identifier of the supersession"},
			{Name: "new part", Path: "part", Kind: Word, Prefix: "parts/", Ref: RefPart, Required: true},
			{Name: "quantity", Path: "quantity", Kind: Whole, Default: "1", Doc: "empty for 1"},
		},
	}
}
