package desk

import (
	"testing"

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
