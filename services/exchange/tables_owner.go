package exchange

import ownerv1 "halfshaft/proto/halfshaft/owner/v1"

func ownerTables() []*Table { return []*Table{peopleTable(), tiesTable()} }

func peopleTable() *Table {
	return &Table{
		Name: "people", Service: Owner, wrap: "person",
		Doc:     "Owners, caretakers and payers. A row for somebody who is there already replaces what is known. The file holds personal data: keep it accordingly.",
		message: (&ownerv1.Person{}).ProtoReflect().Type(), pattern: "people/{id}",
		Columns: []Column{
			{Name: "id", Key: "id", Kind: Word, Required: true, Doc: "identifier that says nothing of the person: p0031"},
			{Name: "full name", Path: "full_name", Required: true, Doc: "how to address the person"},
			{Name: "email", Path: "email"},
			{Name: "phone", Path: "phone", Doc: "with country code: +441632960983"},
			{Name: "postal lines", Path: "postal_lines", Kind: Lines, Doc: "address, line by line"},
			{Name: "language", Path: "language", Doc: "en-GB; empty for English"},
			{Name: "distance unit", Path: "distance_unit", Doc: "mi or km; empty for miles"},
			{Name: "time zone", Path: "time_zone", Required: true, Doc: "America/New_York: by its clock notices go out"},
			{Name: "contact from hour", Path: "contact_from_hour", Kind: Whole, Doc: "the hour from which mail may arrive, 0 to 23"},
			{Name: "contact until hour", Path: "contact_until_hour", Kind: Whole, Doc: "the hour from which it may not, 1 to 24"},
			createTime,
		},
	}
}

func tiesTable() *Table {
	return &Table{
		Name: "ties", Service: Owner, wrap: "tie",
		Doc:     "Who is or was what to a vehicle, and when.",
		message: (&ownerv1.Tie{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/ties/{id}",
		Columns: []Column{
			serialKnown, idKey,
			{Name: "person", Path: "person", Kind: Word, Prefix: "people/", Ref: RefPerson, Required: true, Identity: true},
			{Name: "role", Path: "role", Kind: Choice, Required: true, Identity: true, Doc: "what the person is to the vehicle"},
			{Name: "notices", Path: "notices", Kind: Flag, Doc: "whether service notices go to this person"},
			{Name: "start date", Path: "start_date", Kind: Date, Required: true, Identity: true, Doc: "the first day"},
			{Name: "end date", Path: "end_date", Kind: Date, Given: true, Doc: "the day it ended, which no longer counts; empty while it lasts"},
		},
	}
}
