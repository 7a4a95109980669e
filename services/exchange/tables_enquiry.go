package exchange

import enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"

func enquiryTables() []*Table {
	return []*Table{enquiriesTable(), enquiryAnswersTable(), answerNotesTable()}
}

func enquiriesTable() *Table {
	return &Table{
		Name: "enquiries", Service: Enquiry, wrap: "enquiry", frozen: true,
		Doc:     "What was asked about a vehicle. The file holds personal data: keep it accordingly. Of somebody who was erased it has no words.",
		message: (&enquiryv1.Enquiry{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/enquiries/{id}",
		Columns: []Column{
			serialKnown, idKey,
			{Name: "channel", Path: "channel", Kind: Choice, Required: true, Identity: true, Doc: "how it came"},
			{Name: "asker", Path: "asker_kind", Kind: Choice, Required: true, Identity: true, Doc: "who asked"},
			{Name: "person", Path: "person", Kind: Word, Prefix: "people/", Ref: RefPerson, Doc: "who asked, where they are on record: p0031; their words are sealed under their key then"},
			{Name: "organisation", Path: "organisation", Kind: Word, Prefix: "organisations/", Doc: "the dealer who asked: ferncombe"},
			{Name: "question", Path: "question", Identity: true, Doc: "in the asker's words; needed where there is no symptom"},
			{Name: "positions", Path: "positions", Kind: Words, Doc: "where on the vehicle it is about; empty for the whole"},
			{Name: "symptom", Path: "symptom", Identity: true, Doc: "in the words of the trade, without names: weep at the swivel seal"},
			{Name: "release", Path: "release", Kind: Word, Ref: RefRelease, Given: true, Doc: "of the vehicle when it was asked; filled in when empty"},
			{Name: "follow up date", Path: "follow_up_date", Kind: Date, Doc: "by when the works comes back to it; empty for never"},
			{Name: "closed", Path: "closed", Kind: Flag, Doc: "whether it is done with"},
			{Name: "ask time", Path: "ask_time", Kind: Stamp, Given: true, Identity: true, Doc: "when it was asked; filled in when empty"},
			recordedBy, createTime,
		},
	}
}

func enquiryAnswersTable() *Table {
	return &Table{
		Name: "enquiry answers", Service: Enquiry, parent: "enquiries", field: "answers", fallback: true,
		Doc:     "What was answered, the oldest first. The file holds personal data: keep it accordingly.",
		message: (&enquiryv1.EnquiryAnswer{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/enquiries/{id}",
		Columns: []Column{
			{Name: "enquiry", Key: "id", Kind: Word, Required: true, Doc: "identifier of the enquiry"},
			{Name: "serial", Key: "serial", Kind: Serial, Doc: "may be empty when no two enquiries have the same identifier"},
			{Name: "text", Path: "text", Doc: "what was said"},
			{Name: "links", Path: "links", Kind: Words, Doc: "records that it rests on: vehicles/AM0147P/serviceEntries/0192f0; answerNotes/drip-at-the-swivel"},
			{Name: "answered by", Path: "answered_by", Required: true, Doc: "who said it"},
			{Name: "answer time", Path: "answer_time", Kind: Stamp, Required: true, Doc: "when"},
		},
	}
}

func answerNotesTable() *Table {
	return &Table{
		Name: "answer notes", Service: Enquiry, wrap: "answer_note", frozen: true,
		Doc:     "Answers to what is asked often. Staff read out those that were reviewed.",
		message: (&enquiryv1.AnswerNote{}).ProtoReflect().Type(), pattern: "answerNotes/{id}",
		Columns: []Column{
			{Name: "id", Key: "id", Kind: Word, Required: true, Doc: "small letters, digits and hyphens: drip-at-the-swivel"},
			{Name: "title", Path: "title", Required: true, Doc: "the question, in a line"},
			{Name: "text", Path: "text", Required: true, Doc: "the answer"},
			{Name: "caution", Path: "caution", Doc: "what can hurt; empty for nothing"},
			{Name: "releases", Path: "releases", Kind: Words, Ref: RefRelease, Doc: "those it is for; empty for all"},
			{Name: "positions", Path: "positions", Kind: Words, Doc: "where it is about; empty for the whole vehicle"},
			{Name: "keywords", Path: "keywords", Kind: Lines, Doc: "words it is found by, besides those of its title"},
			{Name: "reviewed by", Path: "reviewed_by", Doc: "the engineer who reviewed it; empty while nobody has"},
			{Name: "review time", Path: "review_time", Kind: Stamp, Doc: "when"},
			{Name: "sample", Path: "sample", Kind: Flag, Required: true, Doc: "whether it is a sample that the works' engineer has not signed"},
			{Name: "retired", Path: "retired", Kind: Flag, Doc: "whether it is no longer in use"},
			createTime,
		},
	}
}
