package desk

import (
	"net/url"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
)

// What was confirmed of one number is not said of another that took its place.
func TestAReasonHoldsForTheNumberThatItWasGivenFor(t *testing.T) {
	form := url.Values{"done.1": {"yes"}, "value.1.1": {"0.21"}, "confirm.1.1": {"measured twice"}, "seen.1.1": {"0.21"},
		"reading": {"1605"}, "confirm.reading": {"the dial was out"}, "seen.reading": {"1605"}, "after.1.s1": {"0.17"}, "shims.1.s1": {"0.51 mm"}, "confirm.1.s1": {"a thou over"}, "seen.1.s1": {"0.17"}}
	if got := sent(form).readReturn(aSheet()).back.GetConfirmed(); len(got) != 3 {
		t.Errorf("of three only %v are confirmed", got)
	}
	for name, other := range map[string]string{"value.1.1": "21", "reading": "16050", "after.1.s1": "1.7"} {
		mended := url.Values{}
		for k, v := range form {
			mended[k] = v
		}
		mended.Set(name, other)
		if got := sent(mended).readReturn(aSheet()).back.GetConfirmed(); len(got) != 2 {
			t.Errorf("with %s in %s, %v are confirmed", other, name, got)
		}
	}
	// The form asks again, with what stands in it then.
	v := sent(form)
	f := newBackForm(v, aSheet(), typedNow(v))
	s := f.job(aSheet().GetJobs()[0])
	shown := map[string]string{}
	for _, x := range s.Fields {
		shown[x.Name] = x.Value
	}
	if shown["seen.1.1"] != "0.21" || shown["seen.1.s1"] != "0.17" {
		t.Errorf("shown is %v", shown)
	}
}

// Two people have the form of one sheet open. What the second sends goes on from
// what they were shown, so that the service sees that it is outdated.
func TestTheFormOfASheetGoesOnFromTheSheetThatItWasShownWith(t *testing.T) {
	m := proto.CloneOf(aSheet())
	m.Etag = "8"
	v := sent(url.Values{"etag": {"7"}, "done.1": {"yes"}})
	v.r.SetPathValue("serial", "AM0147P")
	if got := sentBackForm(v, m).Etag; got != "7" {
		t.Errorf("it goes on from %q, want 7", got)
	}
}

// Likewise where work is recorded without a sheet.
func TestAnOddValueOfWorkIsConfirmedAsItWasShown(t *testing.T) {
	m := measures(&schedulev1.ItemStatus{ItemId: "T02", Item: &schedulev1.Item{Measured: []*schedulev1.MeasuredLimit{{Characteristic: "end-float", Unit: "mm"}}}}, nil)[0]
	for value, want := range map[string]string{"0.20": "measured twice", "20": ""} {
		v := sent(url.Values{"T02.0.value": {value}, "T02.0.confirm": {"measured twice"}, "T02.0.seen": {"0.20"}})
		if got := m.confirmed(v); got != want {
			t.Errorf("of %s it is said %q, want %q", value, got, want)
		}
	}
	names := ""
	for _, x := range m.confirmFields() {
		names += x.Name + " "
	}
	if !strings.Contains(names, "T02.0.seen") {
		t.Errorf("the form has %s", names)
	}
}
