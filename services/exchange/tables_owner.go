package exchange

import ownerv1 "halfshaft/proto/halfshaft/owner/v1"

func ownerTables() []*Table {
	return []*Table{peopleTable(), erasuresTable(), tiesTable(), consentsTable(), standingsTable()}
}

func erasuresTable() *Table {
	return &Table{
		Name: "erasures", Service: Owner, wrap: "erasure", frozen: true,
		Doc:     "Who was erased, by identifier. Importing a row erases nobody: it keeps the identifier from being used again, and lets the ties in that have ended.",
		message: (&ownerv1.Erasure{}).ProtoReflect().Type(), pattern: "erasures/{person}",
		Columns: []Column{
			{Name: "person", Key: "person", Kind: Word, Required: true, Doc: "identifier of somebody who is no more: p0031"},
			{Name: "create time", Path: "create_time", Kind: Stamp, Required: true, Doc: "when they were erased"},
			{Name: "ground", Path: "ground", Required: true, Doc: "on what ground, without names"},
			{Name: "recorded by", Path: "recorded_by"},
			{Name: "destroyed master key", Path: "destroyed_master_key", Doc: "by identifier"},
			{Name: "new master key", Path: "new_master_key", Doc: "by identifier"},
		},
	}
}

func peopleTable() *Table {
	return &Table{
		Name: "people", Service: Owner, wrap: "person",
		Doc:     "Owners, caretakers and payers. A row for somebody who is there already replaces what is known; an address or number that it replaces is not told, for the works itself brings its records up to date, and a list that was tidied up would write to everybody. The file holds personal data: keep it accordingly.",
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
			{Name: "contact ways", Path: "contact_ways", Kind: Choices, Doc: "the most wanted first: mail; letter. Empty for those two"},
			{Name: "format locale", Path: "format_locale", Doc: "how dates and numbers are written: de-CH; empty for as the language has it"},
			{Name: "most messages", Path: "most_messages", Kind: Whole, Doc: "service messages in any 30 days, 1 to 100; empty for the works' usual number"},
			{Name: "deceased date", Path: "deceased_date", Kind: Date, Doc: "the day the person died; from then on nothing is sent"},
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

func consentsTable() *Table {
	return &Table{
		Name: "consents", Service: Owner, wrap: "consent", frozen: true,
		Doc:     "What people said about being written to, each time they said something. The latest for a purpose and a way counts. The file holds personal data: keep it accordingly.",
		message: (&ownerv1.Consent{}).ProtoReflect().Type(), pattern: "people/{person}/consents/{id}",
		Columns: []Column{
			{Name: "person", Key: "person", Kind: Word, Ref: RefPerson, Required: true, Identity: true, Doc: "who said so: p0031"},
			idKey,
			{Name: "purpose", Path: "purpose", Kind: Choice, Required: true, Identity: true, Doc: "what for: service or year letter; nobody is asked about the others, and a row that names one is refused"},
			{Name: "way", Path: "way", Kind: Choice, Identity: true, Doc: "by which way; empty for every way"},
			{Name: "given", Path: "given", Kind: Flag, Required: true, Identity: true, Doc: "no where it was refused or taken back"},
			{Name: "wording", Path: "wording", Doc: "the words that the person agreed to or spoke, as they stood there; needed where it was given"},
			{Name: "language", Path: "language", Doc: "of the wording: en-GB; empty for English"},
			{Name: "consent time", Path: "consent_time", Kind: Stamp, Required: true, Identity: true, Doc: "when the person said so"},
			{Name: "source", Path: "source", Kind: Choice, Required: true, Doc: "how it came to the works"},
			recordedBy, createTime,
		},
	}
}

func standingsTable() *Table {
	return &Table{
		Name: "standings", Service: Owner, wrap: "standing",
		Doc:     "What has become of a vehicle as far as its people go. One without a row is in use.",
		message: (&ownerv1.Standing{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/standing",
		Columns: []Column{
			serialKnown,
			{Name: "state", Path: "state", Kind: Choice, Required: true},
			{Name: "since date", Path: "since_date", Kind: Date, Required: true, Doc: "since which day"},
			{Name: "note", Path: "note", Doc: "how that is known, without names"},
			recordedBy,
			{Name: "update time", Path: "update_time", Kind: Stamp, Given: true, Doc: "when it was recorded last; filled in when empty"},
		},
	}
}
