package exchange

import schedulev1 "halfshaft/proto/halfshaft/schedule/v1"

func scheduleTables() []*Table {
	return []*Table{
		readingsTable(), entriesTable(), itemsDoneTable(), measuredValuesTable(), shimWorkTable(), partsUsedTable(), eventsTable(), useFactsTable(),
	}
}

// statedBy is not looked up among the people: whoever said so may be erased.
var statedBy = Column{Name: "stated by", Path: "stated_by", Kind: Word, Prefix: "people/", Given: true, Doc: "the owner who said so: p0031"}

// dealerOf is not looked up either: organisations are not in the files.
var dealerOf = Column{Name: "organisation", Path: "organisation", Kind: Word, Prefix: "organisations/", Given: true, Doc: "the dealer whose people recorded it: ferncombe"}

func readingsTable() *Table {
	return &Table{
		Name: "readings", Service: Schedule, wrap: "reading", frozen: true,
		Doc:     "Odometer readings, as they were read. Whether a reading counts is never imported: it follows from all of them and from what a person decided.",
		message: (&schedulev1.Reading{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/readings/{id}",
		Columns: []Column{
			serialKnown, idKey,
			{Name: "reading date", Path: "reading_date", Kind: Date, Required: true, Identity: true},
			{Name: "value", Path: "value", Kind: Distance, Required: true, Identity: true, Doc: "what the dial showed: 12345.6 mi"},
			{Name: "source", Path: "source", Kind: Choice, Identity: true, Doc: "who read it"},
			{Name: "note", Path: "note"},
			{Name: "verdict", Path: "settlement.verdict", Kind: Choice, Given: true, Doc: "what a person decided about a doubtful reading"},
			{Name: "corrected", Path: "settlement.corrected", Kind: Distance, Given: true, Doc: "for a corrected reading: what the dial really showed"},
			{Name: "verdict reason", Path: "settlement.reason", Given: true},
			{Name: "settled by", Path: "settlement.settled_by", Given: true},
			{Name: "settle time", Path: "settlement.settle_time", Kind: Stamp, Given: true},
			statedBy, dealerOf, recordedBy, createTime,
		},
	}
}

func entriesTable() *Table {
	return &Table{
		Name: "service entries", Service: Schedule, wrap: "service_entry", frozen: true,
		Doc:     "Work done: one row for each visit to a workshop.",
		message: (&schedulev1.ServiceEntry{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/serviceEntries/{id}",
		Columns: []Column{
			serialKnown, idKey,
			{Name: "service date", Path: "service_date", Kind: Date, Required: true, Identity: true},
			{Name: "reading", Path: "reading", Kind: Distance, Identity: true, Doc: "what the odometer showed"},
			{Name: "items", Path: "items", Kind: Words, Ref: RefItem, Alone: true, Doc: "items of the programme that were done, in a cell instead of the table items done: T01; T02"},
			{Name: "done by", Path: "done_by", Identity: true},
			{Name: "note", Path: "note"},
			{Name: "void reason", Path: "void_reason", Given: true, Doc: "why the entry was struck out"},
			{Name: "voided by", Path: "voided_by", Given: true, Doc: "who struck it out"},
			{Name: "void time", Path: "void_time", Kind: Stamp, Given: true, Doc: "when it was struck out"},
			{Name: "owner statement", Path: "owner_statement", Kind: Flag, Given: true, Doc: "whether it is what the owner said, without papers"},
			statedBy, dealerOf, recordedBy, createTime,
		},
	}
}

// entryKeys are the columns by which a line finds its service entry.
func entryKeys() []Column {
	return []Column{
		{Name: "entry", Key: "id", Kind: Word, Required: true, Doc: "identifier of the service entry"},
		{Name: "serial", Key: "serial", Kind: Serial, Doc: "may be empty when no two entries have the same identifier"},
	}
}

func itemsDoneTable() *Table {
	return &Table{
		Name: "items done", Service: Schedule, parent: "service entries", field: "items", fallback: true,
		Doc:     "Which items of the programme were done.",
		message: (&schedulev1.ItemDone{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/serviceEntries/{id}",
		Columns: append(entryKeys(),
			Column{Name: "item", Path: "item_id", Kind: Word, Ref: RefItem, Required: true, Doc: "T02"},
			Column{Name: "note", Path: "note", Doc: "what was found"},
		),
	}
}

func measuredValuesTable() *Table {
	return &Table{
		Name: "measured values", Service: Schedule, parent: "service entries", field: "items.measured", joins: "item_id", fallback: true,
		Doc:     "What the workshop measured.",
		message: (&schedulev1.MeasuredValue{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/serviceEntries/{id}",
		Columns: append(entryKeys(),
			Column{Name: "item", Key: "line", Kind: Word, Required: true, Doc: "the item that it was measured for"},
			Column{Name: "characteristic", Path: "characteristic", Required: true, Doc: "as the programme calls it: end-float"},
			Column{Name: "position", Path: "position", Kind: Word, Ref: RefPosition, Doc: "where the item covers several"},
			Column{Name: "value", Path: "value", Kind: Measure, Required: true, Doc: "0.12 mm"},
			Column{Name: "measured by", Path: "measured_by", Doc: "empty for whoever did the work"},
			Column{Name: "instrument", Path: "instrument", Doc: "dial gauge 4"},
		),
	}
}

func shimWorkTable() *Table {
	return &Table{
		Name: "shim work", Service: Schedule, parent: "service entries", field: "items.shims", joins: "item_id", fallback: true,
		Doc:     "Packs of shims that were changed: what was in before, and what is since.",
		message: (&schedulev1.ShimWork{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/serviceEntries/{id}",
		Columns: append(entryKeys(),
			Column{Name: "item", Key: "line", Kind: Word, Required: true, Doc: "the item that it was done for"},
			Column{Name: "position", Path: "position", Kind: Word, Ref: RefPosition, Required: true, Doc: "output-shaft-bearing"},
			Column{Name: "characteristic", Path: "characteristic", Kind: Word, Required: true, Doc: "what was set: end-float"},
			Column{Name: "measured before", Path: "measured_before", Kind: Measure, Doc: "with the old pack"},
			Column{Name: "pack before", Path: "pack_before", Kind: Measure, Doc: "how thick it was; empty where nobody measured it"},
			Column{Name: "shims", Path: "shims", Kind: Pack, Ref: RefPart, Doc: "those that are in now"},
			Column{Name: "pack", Path: "pack", Kind: Measure, Doc: "how thick they are together: their sum; needed where the shims are not written down"},
			Column{Name: "measured after", Path: "measured_after", Kind: Measure, Doc: "with them"},
		),
	}
}

func partsUsedTable() *Table {
	return &Table{
		Name: "parts used", Service: Schedule, parent: "service entries", field: "parts", fallback: true,
		Doc:     "Parts that went in.",
		message: (&schedulev1.PartUsed{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/serviceEntries/{id}",
		Columns: append(entryKeys(),
			Column{Name: "part", Path: "part", Kind: Word, Ref: RefPart, Required: true, Doc: "part number of the works"},
			Column{Name: "quantity", Path: "quantity", Kind: Whole, Default: "1", Doc: "empty for 1"},
			Column{Name: "lot", Path: "lot", Kind: Word},
		),
	}
}

func eventsTable() *Table {
	return &Table{
		Name: "events", Service: Schedule, wrap: "event", frozen: true,
		Doc:     "What happened in use or in the workshop and may start items.",
		message: (&schedulev1.Event{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/events/{id}",
		Columns: []Column{
			serialKnown, idKey,
			{Name: "kind", Path: "kind", Kind: Choice, Required: true, Identity: true},
			{Name: "event date", Path: "event_date", Kind: Date, Required: true, Identity: true},
			{Name: "reading", Path: "reading", Kind: Distance, Identity: true},
			{Name: "note", Path: "note"},
			statedBy, dealerOf, recordedBy, createTime,
		},
	}
}

func useFactsTable() *Table {
	return &Table{
		Name: "use facts", Service: Schedule, wrap: "use_fact", frozen: true,
		Doc:     "How a vehicle lives: kinds of use, and lay-ups, from a day to another.",
		message: (&schedulev1.UseFact{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/useFacts/{id}",
		Columns: []Column{
			serialKnown, idKey,
			{Name: "kind", Path: "kind", Kind: Choice, Required: true, Identity: true},
			{Name: "start date", Path: "start_date", Kind: Date, Required: true, Identity: true, Doc: "the first day"},
			{Name: "end date", Path: "end_date", Kind: Date, Given: true, Doc: "the last day; empty while it lasts"},
			{Name: "first month", Path: "first_month", Kind: Whole, Doc: "of a season, 1 to 12; for seasonal use only"},
			{Name: "last month", Path: "last_month", Kind: Whole, Doc: "of a season, 1 to 12"},
			{Name: "note", Path: "note"},
			recordedBy, createTime,
		},
	}
}
