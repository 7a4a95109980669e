package exchange

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle"
)

const (
	recordedPart = `name: "parts/K-1" title: "Seal kit" unit: "set" status: PART_STATUS_ORDERABLE caution: "Hot oil." words: "big seal"
		contents: {part: "parts/K-2" quantity: 2} contents: {part: "parts/K-3" quantity: 1}
		renew_with: {part: "parts/K-4" quantity: 4} dimensions: {title: "bore" size: "52 mm"} etag: "7"`
	recordedSetting = `name: "settings/T1" position: "gearbox" characteristic: "end-float" unit: "mm" lower: "0.05" upper: "0.15" sample: true
		method: "Cold." shims: {sign: SHIM_SIGN_ADDS_FLOAT largest_count: 4}
		shim_sizes: {thickness: {value: "0.13" unit: "mm"} part: "parts/K-2" stock: 9} shim_sizes: {thickness: {value: "0.25" unit: "mm"} part: "parts/K-3"}`
	recordedSupersession = `name: "supersessions/S1" old_part: "parts/K-1" new_parts: {part: "parts/K-2" quantity: 3} two_way: true text: "Why."`
	recordedPerson       = `name: "people/p1" full_name: "Ida Penrose" email: "ida@harbour.example" language: "en-GB" contact_from_hour: 8`
	recordedTie          = `name: "vehicles/AM0147P/ties/t1" person: "people/p1" role: ROLE_OWNER notices: true start_date: {year: 2020 month: 4 day: 3} end_date: {year: 2024 month: 1 day: 1}`
)

func recorded[M proto.Message](t *testing.T, text string, m M) M {
	t.Helper()
	if err := prototext.Unmarshal([]byte(text), m); err != nil {
		t.Fatal(err)
	}
	return m
}

// Each row of tables is imported where the record is there already; want is
// what the record then is, told by the difference: replacements in its text.
func TestWhatAnImportDoesNotSpeakOfStays(t *testing.T) {
	for _, c := range []struct {
		name, record string
		of           proto.Message
		tables       map[string][]string // table: header, rows
		replace      []string            // old, new, old, new
	}{
		{"parts alone keep their lines", recordedPart, &partsv1.Part{},
			map[string][]string{"parts": {"part,title,words,unit,status,caution", "K-1,Seal kit 2,big seal,set,orderable,Hot oil."}},
			[]string{`"Seal kit"`, `"Seal kit 2"`}},
		{"a part keeps what has no column", recordedPart, &partsv1.Part{},
			map[string][]string{"parts": {"part,status", "K-1,unavailable"}},
			[]string{"ORDERABLE", "UNAVAILABLE"}},
		{"an empty cell clears", recordedPart, &partsv1.Part{},
			map[string][]string{"parts": {"part,caution,words,contents", "K-1,,,"}},
			[]string{`caution: "Hot oil."`, "", `words: "big seal"`, "", `contents: {part: "parts/K-2" quantity: 2} contents: {part: "parts/K-3" quantity: 1}`, ""}},
		{"a table of lines decides for all its records", recordedPart, &partsv1.Part{},
			map[string][]string{"parts": {"part,title", "K-1,Seal kit", "K-9,New"}, "dimensions": {"part,dimension,size", "K-9,bore,3 mm"},
				"kit contents": {"part,line part,quantity", "K-1,K-3,5"}},
			[]string{`dimensions: {title: "bore" size: "52 mm"}`, "", `contents: {part: "parts/K-2" quantity: 2} contents: {part: "parts/K-3" quantity: 1}`, `contents: {part: "parts/K-3" quantity: 5}`}},
		{"a table of lines that has a header only is not there", recordedPart, &partsv1.Part{},
			map[string][]string{"parts": {"part,title", "K-1,Seal kit"}, "dimensions": {"part,dimension,size"}}, nil},
		{"a line keeps what has no column, and a new one takes the default", recordedPart, &partsv1.Part{},
			map[string][]string{"parts": {"part,title", "K-1,Seal kit"}, "kit contents": {"part,line part", "K-1,K-2", "K-1,K-5"}},
			[]string{`contents: {part: "parts/K-3" quantity: 1}`, `contents: {part: "parts/K-5" quantity: 1}`}},
		{"settings alone keep their shims", recordedSetting, &partsv1.Setting{},
			map[string][]string{"settings": {"id,position,characteristic,unit,lower,upper,sample", "T1,gearbox,end-float,mm,0.06,0.15,no"}},
			[]string{`lower: "0.05"`, `lower: "0.06"`, "sample: true", ""}},
		{"a size keeps its part and stock", recordedSetting, &partsv1.Setting{},
			map[string][]string{"settings": {"id,upper", "T1,0.20"}, "shim sizes": {"setting,thickness", "T1,0.25 mm", "T1,0.13 mm", "T1,0.50 mm"}},
			[]string{`upper: "0.15"`, `upper: "0.20"`, `shim_sizes: {thickness: {value: "0.13" unit: "mm"} part: "parts/K-2" stock: 9} shim_sizes: {thickness: {value: "0.25" unit: "mm"} part: "parts/K-3"}`,
				`shim_sizes: {thickness: {value: "0.25" unit: "mm"} part: "parts/K-3"} shim_sizes: {thickness: {value: "0.13" unit: "mm"} part: "parts/K-2" stock: 9} shim_sizes: {thickness: {value: "0.50" unit: "mm"}}`}},
		{"supersessions alone keep their new parts", recordedSupersession, &partsv1.Supersession{},
			map[string][]string{"supersessions": {"id,old part,text", "S1,K-1,Because."}},
			[]string{"Why.", "Because."}},
		{"people keep what has no column", recordedPerson, &ownerv1.Person{},
			map[string][]string{"people": {"id,email", "p1,new@harbour.example"}},
			[]string{"ida@harbour.example", "new@harbour.example"}},
		{"a tie keeps its notices and, as ever, its end", recordedTie, &ownerv1.Tie{},
			map[string][]string{"ties": {"serial,id,person,role,start date,end date", "AM0147P,t1,p1,payer,2020-04-03,"}},
			[]string{"ROLE_OWNER", "ROLE_PAYER"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			collection := NewCollection()
			for table, rows := range c.tables {
				feed(collection, table, rows...)
			}
			collection.Join()
			was := recorded(t, c.record, c.of)
			collection.Met(was)
			want := proto.Clone(was)
			proto.Reset(want)
			want = recorded(t, strings.NewReplacer(c.replace...).Replace(oneLine(c.record)), want)
			got := collection.Message(collection.Draft(nameOf(was)))
			ignore := protocmp.IgnoreFields(&partsv1.Part{}, "etag")
			if diff := cmp.Diff(want, got, protocmp.Transform(), ignore); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
			if len(c.replace) == 0 && !collection.Draft(nameOf(was)).same {
				t.Error("nothing differs, and it is to be written")
			}
		})
	}
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func TestAFrozenRecordOfFewerColumnsAndTablesIsTheSame(t *testing.T) {
	c := NewCollection()
	feed(c, "service entries", "serial,id,service date,done by", "AM0147P,v1,2020-04-03,works")
	c.Join()
	was := recorded(t, `name: "vehicles/AM0147P/serviceEntries/v1" service_date: {year: 2020 month: 4 day: 3} done_by: "works" note: "Fine."
		items: {item_id: "T02" measured: {characteristic: "end-float" value: {value: "0.10" unit: "mm"}}}`, TableNamed("service entries").message.New().Interface())
	c.Met(was)
	if d := c.Draft(nameOf(was)); !d.same || len(c.Faults.Sorted()) > 0 {
		t.Errorf("same %v, %v", d.same, c.Faults.Sorted())
	}
	c = NewCollection()
	feed(c, "service entries", "serial,id,service date,items", "AM0147P,v1,2020-04-03,T02")
	c.Join()
	c.Met(was)
	if d := c.Draft(nameOf(was)); !d.same {
		t.Errorf("without the table of measured values: %v", c.Faults.Sorted())
	}
}

func TestANewRecordNeedsEveryRequiredColumnAndSaysSoOnce(t *testing.T) {
	c := NewCollection()
	feed(c, "capacities", "id,position,quantity", "F1,gearbox,2 l", "F2,gearbox,3 l", "F3,gearbox,3 l")
	feed(c, "settings", "id,position,characteristic,unit,target,sample", "T1,gearbox,torque,N.m,40,")
	c.Join()
	c.Met(recorded(t, `name: "capacities/F1" position: "gearbox" fluid: "Oil" family: "gear-oil" quantity: {value: "1" unit: "l"} sample: true`, &partsv1.Capacity{}))
	c.Check(vehicle.Date{})
	var got []string
	for _, f := range c.Faults.Sorted() {
		if f.Column != "position" {
			got = append(got, f.File+" "+f.line())
		}
	}
	want := []string{
		"capacities.csv row 1, family: got nothing, want the column family, for capacities/F2 in row 3 is new, and so is one more",
		"capacities.csv row 1, fluid: got nothing, want the column fluid, for capacities/F2 in row 3 is new, and so is one more",
		"capacities.csv row 1, sample: got nothing, want the column sample with yes or no (yes while no engineer has signed the value, no once one has), for capacities/F2 in row 3 is new, and so is one more",
		"settings.csv row 2, sample: got nothing, want yes or no: yes while no engineer has signed the value, no once one has",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}
