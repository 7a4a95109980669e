package ownerpages_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/internal/links"
)

// A second passes between two presses, and the browser shows what comes of the
// second.
func TestATakeOverThatIsPressedTwiceWelcomesOnce(t *testing.T) {
	d, server := newDesk(t)
	address := server.URL + "/take-over"
	f := newcomer(t, address, "Take it over")
	for n := range 2 {
		if a := post(t, address, f); a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "The links on this page work for a day") {
			t.Errorf("the press %d: got %d, %s", n+1, a.StatusCode, a.say())
		}
		d.now = d.now.Add(time.Second)
	}
	if d.count() != 1 {
		t.Errorf("%d changes", d.count())
	}
}

// The second press may read the record before the first has changed it.
func TestSettingsThatArePressedTwiceAtOnceAreSaved(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	before := proto.CloneOf(d.person)
	address := link(t, server, links.People)
	f := get(t, address).page.form(t, "Save")
	f.Set("consent-mail", "yes")
	f.Set("unit", "mi")
	for n := range 2 {
		d.person, d.consents = proto.CloneOf(before), nil
		if a := post(t, address, f); a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "That is saved") {
			t.Errorf("the press %d: got %d, %s", n+1, a.StatusCode, a.say())
		}
		d.now = d.now.Add(time.Second)
	}
	if d.count() != 2 { // the record and the answer
		t.Errorf("%d changes", d.count())
	}
}
