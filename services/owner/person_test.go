package owner

import (
	"fmt"
	"strings"
	"testing"

	"halfshaft/services/vehicle"
)

// ada is invented, like everybody here.
func ada(change func(*Person)) Person {
	p := Person{
		ID: "p0031", FullName: "Ada Nettlefold", Email: "ada@nettlefold.example", Phone: "+441632960983",
		PostalLines: []string{"The Old Forge", "Nether Aldermoor"}, Language: "en-GB", Unit: vehicle.Miles, TimeZone: "Europe/London",
	}
	if change != nil {
		change(&p)
	}
	return p
}

func TestAPersonIsCheckedFieldByField(t *testing.T) {
	for _, c := range []struct {
		name   string
		person Person
		faults string // fields, in order
	}{
		{"a whole person", ada(nil), ""},
		{"the least of a person", Person{FullName: "X", TimeZone: "UTC"}, ""},
		{"no name", ada(func(p *Person) { p.FullName = "" }), "full_name"},
		{"a name with a line break, which could forge a header", ada(func(p *Person) { p.FullName = "Ada\r\nBcc: x@y.example" }), "full_name"},
		{"a name with a line separator", ada(func(p *Person) { p.FullName = "Ada\u2028B" }), "full_name"},
		{"a name that is no text", ada(func(p *Person) { p.FullName = "Ada\xff" }), "full_name"},
		{"a name with a space before it", ada(func(p *Person) { p.FullName = " Ada" }), "full_name"},
		{"a name of 201 characters", ada(func(p *Person) { p.FullName = strings.Repeat("ü", 201) }), "full_name"},
		{"a name of 200 characters", ada(func(p *Person) { p.FullName = strings.Repeat("ü", 200) }), ""},
		{"eleven lines of address", ada(func(p *Person) { p.PostalLines = strings.Split("abcdefghijk", "") }), "postal_lines"},
		{"an empty line of address", ada(func(p *Person) { p.PostalLines = []string{"a", ""} }), "postal_lines[1]"},
		{"an unknown unit", ada(func(p *Person) { p.Unit = "furlong" }), "distance_unit"},
		{"no time zone", ada(func(p *Person) { p.TimeZone = "" }), "time_zone"},
		{"all hours", ada(func(p *Person) { p.FromHour, p.UntilHour = 0, 24 }), ""},
		{"hours that end before they begin", ada(func(p *Person) { p.FromHour, p.UntilHour = 9, 9 }), "contact_until_hour"},
		{"hours beyond the day", ada(func(p *Person) { p.FromHour, p.UntilHour = 24, 25 }), "contact_from_hour contact_until_hour"},
		{"hours below the day", ada(func(p *Person) { p.FromHour, p.UntilHour = -1, 3 }), "contact_from_hour"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var names []string
			for _, f := range c.person.Faults() {
				names = append(names, f.Name)
				// Refusals are logged and shown: nothing personal in them.
				if c.person.FullName != "" && len(c.person.FullName) > 1 && strings.Contains(f.String(), c.person.FullName) {
					t.Errorf("%s quotes the name", f)
				}
			}
			if got := strings.Join(names, " "); got != c.faults {
				t.Errorf("got %q, want %q", got, c.faults)
			}
		})
	}
}

func TestMailMayArriveBetweenNineAndSixUnlessSaidOtherwise(t *testing.T) {
	// The proto of Person: both 0 means 9 to 18.
	for _, c := range []struct{ from, until, wantFrom, wantUntil int }{{0, 0, 9, 18}, {7, 12, 7, 12}, {0, 5, 0, 5}} {
		if from, until := (Person{FromHour: c.from, UntilHour: c.until}).Hours(); from != c.wantFrom || until != c.wantUntil {
			t.Errorf("%d to %d reads as %d to %d", c.from, c.until, from, until)
		}
	}
}

func TestTwoRecordsAreTheSameOnlyInEveryField(t *testing.T) {
	changes := []func(*Person){
		func(p *Person) { p.ID = "x" }, func(p *Person) { p.FullName = "x" }, func(p *Person) { p.Email = "x" },
		func(p *Person) { p.Phone = "x" }, func(p *Person) { p.PostalLines = []string{"x"} }, func(p *Person) { p.Language = "x" },
		func(p *Person) { p.Unit = "x" }, func(p *Person) { p.TimeZone = "x" }, func(p *Person) { p.FromHour = 1 }, func(p *Person) { p.UntilHour = 1 },
	}
	for i, change := range changes {
		if ada(nil).Same(ada(change)) {
			t.Errorf("change %d goes unseen", i)
		}
	}
	if !ada(nil).Same(ada(nil)) {
		t.Error("a record differs from itself")
	}
}

func TestAnIdentifierKeepsInItsPlace(t *testing.T) {
	for id, want := range map[string]bool{
		"p0031": true, "0192f0": true, "A.b-c_d": true, strings.Repeat("a", 64): true,
		"": false, "-a": false, ".": false, "..": false, "a/b": false, "a b": false, "ä": false, "a\x00": false, strings.Repeat("a", 65): false,
	} {
		if got := ValidID(id); got != want {
			t.Errorf("%q: got %v", id, got)
		}
	}
}

func ExampleTie_Lasts() {
	t := Tie{Start: vehicle.MustDate(2026, 3, 1), End: vehicle.MustDate(2026, 11, 25)}
	fmt.Println(t.Lasts(vehicle.MustDate(2026, 11, 24)), t.Lasts(vehicle.MustDate(2026, 11, 25)))
	// Output: true false
}
