package exchange

import warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"

func warrantyTables() []*Table { return []*Table{daysOutTable()} }

func daysOutTable() *Table {
	return &Table{
		Name: "days out of service", Service: Warranty, wrap: "out_of_service_span", frozen: true,
		Doc:     "Times in which a vehicle could not be used for a fault, by which a term may be longer.",
		message: (&warrantyv1.OutOfServiceSpan{}).ProtoReflect().Type(), pattern: "vehicles/{serial}/outOfServiceSpans/{id}",
		Columns: []Column{
			serialKnown, idKey,
			{Name: "start date", Path: "start_date", Kind: Date, Required: true, Identity: true, Doc: "the first day"},
			{Name: "end date", Path: "end_date", Kind: Date, Given: true, Doc: "the last day; empty while it lasts"},
			{Name: "reason", Path: "reason", Required: true, Identity: true, Doc: "why, without names: waiting for a transfer case"},
			{Name: "claim", Path: "claim", Kind: Word, Doc: "the claim it belongs to: vehicles/AM0147P/claims/0192f0"},
			{Name: "counts", Path: "counts", Kind: Flag, Doc: "whether the fault was covered, so that the days are added"},
			recordedBy, createTime,
		},
	}
}
