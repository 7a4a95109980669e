package exchange

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
)

// left says why a field is in no file. Whoever adds a field to a message must
// give it a column or a line here.
var left = map[protoreflect.FullName]string{
	"halfshaft.build.v1.Build.etag":                  "a version of a record in one store",
	"halfshaft.build.v1.Release.etag":                "likewise",
	"halfshaft.parts.v1.Part.etag":                   "likewise",
	"halfshaft.parts.v1.Supersession.etag":           "likewise",
	"halfshaft.parts.v1.Position.etag":               "likewise",
	"halfshaft.parts.v1.Application.etag":            "likewise",
	"halfshaft.parts.v1.Setting.etag":                "likewise",
	"halfshaft.parts.v1.Capacity.etag":               "likewise",
	"halfshaft.parts.v1.Part.withdrawn":              "read, and never written: a record that is taken out is gone",
	"halfshaft.parts.v1.Supersession.withdrawn":      "likewise",
	"halfshaft.parts.v1.Position.withdrawn":          "likewise",
	"halfshaft.parts.v1.Application.withdrawn":       "likewise",
	"halfshaft.parts.v1.Setting.withdrawn":           "likewise",
	"halfshaft.parts.v1.Capacity.withdrawn":          "likewise",
	"halfshaft.parts.v1.KitLine.title":               "written in answers only",
	"halfshaft.parts.v1.KitLine.unit":                "likewise",
	"halfshaft.schedule.v1.Programme.etag":           "likewise",
	"halfshaft.schedule.v1.Reading.etag":             "likewise",
	"halfshaft.schedule.v1.ServiceEntry.etag":        "likewise",
	"halfshaft.schedule.v1.ServiceEntry.job_sheet":   "job sheets are in no file: work that came without its sheet is struck out by itself",
	"halfshaft.schedule.v1.UseFact.etag":             "likewise",
	"halfshaft.owner.v1.Person.etag":                 "likewise",
	"halfshaft.owner.v1.Tie.etag":                    "likewise",
	"halfshaft.owner.v1.Standing.etag":               "likewise",
	"halfshaft.warranty.v1.OutOfServiceSpan.etag":    "likewise",
	"halfshaft.enquiry.v1.Enquiry.etag":              "likewise",
	"halfshaft.enquiry.v1.AnswerNote.etag":           "likewise",
	"halfshaft.enquiry.v1.Enquiry.minutes_to_answer": "follows from the question and the first answer",
	"halfshaft.owner.v1.Person.undeliverable":        "an address that is imported is tried again until something comes back",
	"halfshaft.owner.v1.Person.retention_hold":       "is made and lifted for one person, by hand; an import leaves the one that is there",
	"halfshaft.owner.v1.Person.consents":             "follows from the table consents",
	"halfshaft.schedule.v1.Reading.state":            "computed from all readings",
	"halfshaft.schedule.v1.Reading.life_distance":    "likewise",
	"halfshaft.schedule.v1.Reading.explanations":     "likewise",
	"halfshaft.schedule.v1.Reading.photograph":       "names a file that is sealed under a person's key and is in no table",
}

func TestEveryRecordThatCanBeImportedHasATableOrIsADocument(t *testing.T) {
	for _, row := range []protoreflect.MessageDescriptor{
		(&buildv1.BuildRow{}).ProtoReflect().Descriptor(), (&partsv1.PartRow{}).ProtoReflect().Descriptor(),
		(&schedulev1.HistoryRow{}).ProtoReflect().Descriptor(), (&ownerv1.OwnerRow{}).ProtoReflect().Descriptor(),
		(&warrantyv1.WarrantyRow{}).ProtoReflect().Descriptor(), (&bulletinv1.BulletinRow{}).ProtoReflect().Descriptor(),
		(&enquiryv1.EnquiryRow{}).ProtoReflect().Descriptor(),
	} {
		for i := range row.Fields().Len() {
			f := row.Fields().Get(i)
			found := slices.ContainsFunc(everything(), func(t *Table) bool {
				return t.wrap == string(f.Name()) && t.message.Descriptor() == f.Message()
			})
			if !found {
				t.Errorf("%s can be imported and has neither table nor document", f.FullName())
			}
		}
	}
}

func TestEveryFieldOfATableHasAColumnOrAReasonForNone(t *testing.T) {
	for _, table := range Tables() {
		covered := map[string]bool{"name": !table.IsLine()}
		for _, c := range table.Columns {
			if !c.Alone {
				covered[c.Path] = true
			}
		}
		for _, lines := range Tables() {
			outer, inner, nested := cutField(lines.field)
			switch {
			case lines.parent == table.Name && !nested:
				covered[outer] = true
			case table.field == outer && lines.parent == table.parent && nested:
				covered[inner] = true
			}
		}
		uncovered(t, table.message.Descriptor(), "", covered)
	}
}

func uncovered(t *testing.T, d protoreflect.MessageDescriptor, path string, covered map[string]bool) {
	t.Helper()
	for i := range d.Fields().Len() {
		f := d.Fields().Get(i)
		under := join(path, string(f.Name()))
		switch {
		case covered[under] || left[f.FullName()] != "":
		case f.Message() != nil && !f.IsList() && columnOf(f) == nil:
			uncovered(t, f.Message(), under, covered)
		default:
			t.Errorf("%s has no column and no reason for none", f.FullName())
		}
	}
}

func TestNoTwoTablesOrColumnsCanBeTakenForEachOther(t *testing.T) {
	tables := map[string]bool{}
	for _, table := range Tables() {
		if tables[squeeze(table.Name)] {
			t.Errorf("two tables are called %s", table.Name)
		}
		tables[squeeze(table.Name)] = true
		columns := map[string]bool{}
		for _, c := range table.Columns {
			if columns[squeeze(c.Name)] {
				t.Errorf("%s has two columns %s", table.Name, c.Name)
			}
			columns[squeeze(c.Name)] = true
		}
	}
}

func TestATableIsKnownByItsNameHoweverItIsWritten(t *testing.T) {
	for name, want := range map[string]string{
		"builds": "builds", "Builds": "builds", "service_entries": "service entries", "Service Entries": "service entries",
		"service-entries 2024": "service entries", "readings_2": "readings", "road test": "road test",
		"readigs": "", "": "", "2024": "", "notes": "",
	} {
		got := ""
		if table := TableNamed(name); table != nil {
			got = table.Name
		}
		if got != want {
			t.Errorf("%q is the table %q, want %q", name, got, want)
		}
	}
}

func TestARowWithoutAnIdentifierAlwaysGetsTheSameOne(t *testing.T) {
	one := draftsOf(t, "readings", "serial,reading date,value,source,note", "AM0147P,2020-04-03,1200 mi,owner,")
	again := draftsOf(t, "readings", "note,source,value,reading date,serial", "another note,OWNER,1200 miles,3 April 2020,am 0147 p")
	other := draftsOf(t, "readings", "serial,reading date,value,source", "AM0147P,2020-04-03,1201 mi,owner")
	if one[0].Name != again[0].Name || one[0].Name == other[0].Name {
		t.Errorf("got %s, again %s, another %s", one[0].Name, again[0].Name, other[0].Name)
	}
	// Fixed for ever: records imported once are found again by it. The digits
	// are those that sha256sum gives of the cells with a zero byte before each.
	if want := "vehicles/AM0147P/readings/4b567bbbf068"; one[0].Name != want {
		t.Errorf("got %s, want %s as ever", one[0].Name, want)
	}
}

// draftsOf reads rows written with commas.
func draftsOf(t *testing.T, table string, lines ...string) []*Draft {
	t.Helper()
	c, faults := collect(table, lines...)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return c.Drafts(TableNamed(table))
}

func collect(table string, lines ...string) (*Collection, []Fault) {
	c := NewCollection()
	feed(c, table, lines...)
	c.Join()
	return c, c.Faults.Sorted()
}

func feed(c *Collection, table string, lines ...string) {
	t := TableNamed(table)
	s := c.Sheet(t.FileName()+".csv", "", t)
	for i, line := range lines {
		var cells []Cell
		for text := range strings.SplitSeq(line, ",") {
			cells = append(cells, Cell{Text: text})
		}
		s.Row(i+1, cells)
	}
}
