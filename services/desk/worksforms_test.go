package desk

import (
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/fault"
)

// A person knows no field by the name that a service gives it.
func TestWhatIsSaidOfAWholeStandsAtTheFirstFieldForAPartOfIt(t *testing.T) {
	f := &form{Fields: []field{{Name: "bulletin.remedy_date"}, {Name: "bulletin.remedy[0].etag", Type: "hidden"}, {Name: "bulletin.remedy[0].title"}, {Name: "bulletin.set.serials"}}}
	f.wrong(f.pointed(fault.InvalidFields([]fault.Field{{Name: "bulletin.remedy", Want: "at least one item"}, {Name: "bulletin.set", Want: "a list of serials"}}), nil))
	for i, want := range []string{"", "", "Please enter at least one item.", "Please enter a list of serials."} {
		if got := f.Fields[i].Error; got != want {
			t.Errorf("%s: got %q, want %q", f.Fields[i].Name, got, want)
		}
	}
	if f.Error != "" {
		t.Errorf("above the form stands %q", f.Error)
	}
}

// What the form has no fields for stays as it is, behind what it has.
func TestALongRemedyIsChangedInItsFirstItemsAndKeptInTheOthers(t *testing.T) {
	stands := &bulletinv1.Bulletin{Name: "bulletins/C-2026-02/versions/2"}
	for n := range mostItems + 9 {
		stands.Remedy = append(stands.Remedy, &bulletinv1.RemedyItem{ItemId: "C" + strconv.Itoa(n+1), Title: "Step"})
	}
	sent := url.Values{}
	for _, f := range draftForm("/works/bulletins/new", stands).Fields {
		sent.Set(f.Name, f.Value)
	}
	sent.Set(remedyAt(1)+".title", "Another step")
	sent.Set(remedyAt(2)+".item_id", "")
	sent.Set(remedyAt(2)+".title", "")
	r := httptest.NewRequest("POST", "/works/bulletins/new", strings.NewReader(sent.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	v := &visit{d: &desk{}, w: httptest.NewRecorder(), r: r}
	if !v.readForm() {
		t.Fatal("the form is not read")
	}
	got := (&typed{visit: v}).draft(stands).GetRemedy()
	if len(got) != len(stands.Remedy)-1 || got[1].GetTitle() != "Another step" || got[2].GetItemId() != "C4" {
		t.Fatalf("got %d items: %v", len(got), got)
	}
	for n, i := range got[mostItems-1:] {
		if want := "C" + strconv.Itoa(mostItems+n+1); i.GetItemId() != want {
			t.Errorf("got %s, want %s", i.GetItemId(), want)
		}
	}
	if said := furtherItems(stands.Remedy); len(said) != 1 || furtherItems(stands.Remedy[:mostItems]) != nil {
		t.Errorf("it says %+v", said)
	}
}
