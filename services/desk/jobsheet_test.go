package desk

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
)

// aSheet is one with a value that is set with shims, and two parts.
func aSheet() *jobsheetv1.JobSheet {
	return &jobsheetv1.JobSheet{
		Name: "vehicles/AM0147P/jobSheets/1", Distance: &jobsheetv1.JobDistance{Unit: "mi"},
		Jobs: []*jobsheetv1.Job{
			{Number: 1, ItemId: "T02", Title: "End float", Values: []*jobsheetv1.JobValue{{Line: "1.1", Characteristic: "end-float", Title: "end float", Unit: "mm"}},
				Shims: []*jobsheetv1.JobShims{{Line: "1.s1", Position: "output-shaft-bearing", Characteristic: "end-float", Pack: &vehiclev1.Quantity{Value: "0.55", Unit: "mm"}}}},
			{Number: 2, ItemId: "E01", Title: "Oil"},
		},
		Parts: []*jobsheetv1.JobPart{{Part: "AP-1011", Quantity: 1}, {Part: "AP-2041", Quantity: 2, IfNeeded: true}},
	}
}

// sent is the form of a returned sheet as a browser sends it.
func sent(form url.Values) *visit {
	r := httptest.NewRequest(http.MethodPost, "/vehicles/AM0147P/sheets/1/return", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	v := &visit{d: &desk{}, w: httptest.NewRecorder(), r: r}
	v.readForm()
	return v
}

var filledIn = url.Values{
	"service_date": {"2026-05-18"}, "reading": {"1,605"}, "done_by": {"Ned Larkrise"}, "note": {"rust at the left sill"},
	"done.1": {"yes"}, "value.1.1": {"0.21 with dial gauge 4"}, "shims.1.s1": {"0.51 mm (AP-2076) + 2 x 0.08 mm"}, "after.1.s1": {"4 thou"}, "confirm.1.s1": {"looked at twice"}, "seen.1.s1": {"4 thou"},
	"note.2": {"no oil here"}, "part.1": {"1"}, "lot.1": {"7731"}, "parts": {"AP-3\r\n2 AP-2042 lot B7"},
	"change.1.kind": {"FIT"}, "change.1.position": {"Transfer case"}, "change.1.serial": {"TC-7731"}, "change.2.kind": {"REMOVE"}, "change.2.position": {"winch"},
	"tyre.size": {"7.50-16"}, "tyre.pattern": {"bar"}, "gears": {"5:15"}, "dial.start": {"12"}, "dial.digits": {"5"}, "dial.turns": {"1000"},
}

func TestWhatIsTypedFromThePaperBecomesTheReturn(t *testing.T) {
	r := sent(filledIn).readReturn(aSheet())
	if len(r.wrong) != 0 {
		t.Fatal(r.wrong)
	}
	want := &jobsheetv1.JobReturn{}
	if err := prototext.Unmarshal([]byte(`
		service_date { year: 2026 month: 5 day: 18 } reading { entered_value: "1605" entered_unit: "mi" millimetres: 2582997120 } done_by: "Ned Larkrise" note: "rust at the left sill"
		jobs { number: 1 done: true values { line: "1.1" value { value: "0.21" unit: "mm" } instrument: "dial gauge 4" }
		  shims { position: "output-shaft-bearing" characteristic: "end-float" measured_before { value: "0.21" unit: "mm" } pack_before { value: "0.55" unit: "mm" }
		    shims { thickness { value: "0.51" unit: "mm" } part: "AP-2076" } shims { thickness { value: "0.08" unit: "mm" } count: 2 } measured_after { value: "4" unit: "thou" } } }
		jobs { number: 2 note: "no oil here" }
		parts { part: "AP-1011" quantity: 1 lot: "7731" } parts { part: "AP-3" quantity: 1 } parts { part: "AP-2042" quantity: 2 lot: "B7" }
		changes { kind: CHANGE_KIND_FIT component { position: "transfer-case" serial: "TC-7731" } } changes { kind: CHANGE_KIND_REMOVE component { position: "winch" } }
		changes { kind: CHANGE_KIND_TYRES tyre { size: "7.50-16" pattern: "bar" } } changes { kind: CHANGE_KIND_SPEEDOMETER_DRIVE speedometer_drive { driver_teeth: 5 driven_teeth: 15 } }
		changes { kind: CHANGE_KIND_DIAL dial { unit: "mi" digits: 5 turns_per_unit: 1000 } dial_start { entered_value: "12" entered_unit: "mi" millimetres: 19312128 } }
		confirmed { line: "1.s1" text: "looked at twice" }`), want); err != nil {
		t.Fatal(err)
	}
	if !proto.Equal(r.back, want) {
		t.Errorf("got\n%s\nwant\n%s", prototext.Format(r.back), prototext.Format(want))
	}
	// What was refused stands in the form again as it was typed, but for how it is
	// written.
	m := aSheet()
	m.JobReturn = r.back
	again := url.Values{}
	for name, text := range typedBefore(m) {
		again.Set(name, text)
	}
	if back := sent(again).readReturn(aSheet()).back; !proto.Equal(back, want) {
		t.Errorf("typed again it is\n%s\nwant\n%s", prototext.Format(back), prototext.Format(want))
	}
}

func TestEachSlipOfThePenIsSaidBesideItsField(t *testing.T) {
	r := sent(url.Values{
		"service_date": {"yesterday"}, "reading": {"many"}, "value.1.1": {"0,21"}, "after.1.s1": {"0.10"}, "part.1": {"some"}, "lot.2": {"7731"}, "parts": {"2 AP 2041"},
		"change.1.position": {"winch"}, "change.2.kind": {"FIT"}, "gears": {"five to fifteen"}, "dial.digits": {"five"},
	}).readReturn(aSheet())
	got := map[string]bool{}
	for _, f := range r.wrong {
		got[f.Name] = true
	}
	for _, name := range []string{"service_date", "reading", "value.1.1", "shims.1.s1", "part.1", "part.2", "parts", "change.1.kind", "change.2.position", "gears", "dial.digits"} {
		if !got[name] {
			t.Errorf("nothing is said of %s", name)
		}
		delete(got, name)
	}
	if len(got) != 0 {
		t.Errorf("something is said of %v", got)
	}
}

func TestWhatAServiceFindsWrongStandsBesideTheFieldInWhichItWasTyped(t *testing.T) {
	r := sent(filledIn).readReturn(aSheet())
	for path, want := range map[string]string{
		"job_return.jobs[0].values[0].value": "value.1.1", "jobs[0].shims[0].shims[1].thickness": "shims.1.s1", "jobs[0].shims[0].measured_after": "after.1.s1",
		"jobs[1].note": "note.2", "jobs[1].done": "done.2", "jobs": "done.1", "parts[0].lot": "part.1", "parts[2]": "parts", "parts": "parts",
		"changes[0].component.serial": "change.1.serial", "changes[1].component": "change.2.kind", "changes[2].tyre.pattern": "tyre.pattern", "changes[4].dial.turns_per_unit": "dial.turns",
		"changes": "change.1.kind", "confirmed[0].line": "confirm.1.s1", "done_by": "done_by", "nowhere": "",
	} {
		if got := r.where(path); got != want {
			t.Errorf("%s is typed in %q, want %q", path, got, want)
		}
	}
}

// FuzzReturnedSheet types anything into the fields of a returned sheet: what is
// read is a return of its jobs, and what was typed stands in the form again.
func FuzzReturnedSheet(f *testing.F) {
	f.Add("0.21 with dial gauge 4", "0.51 mm + 2 x 0.08 mm", "2 AP-2041 lot 7731\nAP-3", "5:15", "Transfer case")
	f.Add("4 thou", "two of the thick ones", "2 AP 2041", "5", "")
	f.Add(" with ", "x", "99999999999 AP-1", ":", "\x00")
	f.Fuzz(func(t *testing.T, value, shims, parts, gears, position string) {
		v := sent(url.Values{"value.1.1": {value}, "shims.1.s1": {shims}, "after.1.s1": {value}, "parts": {parts}, "gears": {gears}, "change.1.kind": {"FIT"}, "change.1.position": {position}, "part.1": {value}})
		r := v.readReturn(aSheet())
		if len(r.back.GetJobs()) != 2 {
			t.Errorf("%d jobs came back", len(r.back.GetJobs()))
		}
		for path, name := range r.at {
			if r.where(path) != name {
				t.Errorf("%s was typed in %s, and is looked for in %s", path, name, r.where(path))
			}
		}
		for name, text := range typedNow(v) {
			if text != strings.TrimSpace(v.r.PostForm.Get(name)) {
				t.Errorf("%s: %q is lost", name, text)
			}
		}
	})
}
