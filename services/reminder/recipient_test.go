package reminder

import (
	"strings"
	"testing"
)

// tiedText prints people: "p1 owner notices, p2 payer".
func tiedText(people []Recipient) string {
	var words []string
	for _, r := range people {
		word := r.Person + " " + r.Role
		if r.Notices {
			word += " notices"
		}
		words = append(words, strings.TrimSpace(word))
	}
	return strings.Join(words, ", ")
}

func TestWhoIsTiedToAVehicleToday(t *testing.T) {
	people := map[string]Recipient{
		"p1": {Person: "p1"}, "p2": {Person: "p2", Deceased: true}, "p3": {Person: "p3", Zone: zone("Pacific/Auckland")},
	}
	for _, c := range []struct {
		name string
		ties []Tie
		want string
	}{
		{"an owner", []Tie{{Person: "p1", Role: "owner", Notices: true}}, "p1 owner notices"},
		{"somebody with two ties once, with notices if either says so", []Tie{{Person: "p1", Role: "owner"}, {Person: "p1", Role: "payer", Notices: true}}, "p1 owner notices"},
		{"somebody who pays for what is theirs as its owner", []Tie{{Person: "p1", Role: "payer", Notices: true}, {Person: "p1", Role: "owner"}}, "p1 owner notices"},
		{"somebody whom notices do not go to", []Tie{{Person: "p1", Role: "payer"}}, "p1 payer"},
		{"somebody who died: Select says so", []Tie{{Person: "p2", Role: "owner", Notices: true}}, "p2 owner notices"},
		{"nobody whose record is gone", []Tie{{Person: "p9", Notices: true}}, ""},
		{"not a former owner, from the day the tie ended", []Tie{{Person: "p1", Notices: true, End: day("2026-05-18")}}, ""},
		{"but the day before", []Tie{{Person: "p1", Role: "owner", Notices: true, End: day("2026-05-19")}}, "p1 owner notices"},
		{"a former tie beside a present one", []Tie{{Person: "p1", Role: "owner", Notices: true, End: day("2026-05-18")}, {Person: "p1", Role: "payer"}}, "p1 payer"},
		{"nobody whose tie begins tomorrow", []Tie{{Person: "p1", Notices: true, Start: day("2026-05-19")}}, ""},
		{"not even where it is tomorrow already", []Tie{{Person: "p3", Role: "owner", Notices: true, Start: day("2026-05-19")}}, ""},
	} {
		if got := tiedText(Tied(c.ties, people, at("2026-05-18T13:00:00Z"))); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

// A change of owner cuts the ties on the day in UTC. At two in the morning UTC
// it is the afternoon of the day before in Honolulu, and in Auckland it is the
// afternoon of the same day: the former owner is out and the new one in, in both.
func TestAHandoverTakesEffectAtOnceEverywhere(t *testing.T) {
	for _, place := range []string{"Pacific/Honolulu", "UTC", "Pacific/Auckland"} {
		people := map[string]Recipient{"former": {Person: "former", Zone: zone(place)}, "new": {Person: "new", Zone: zone(place)}}
		ties := []Tie{
			{Person: "former", Role: "owner", Start: day("2020-01-01"), End: day("2026-05-18")},
			{Person: "new", Role: "owner", Start: day("2026-05-18")},
		}
		for moment, want := range map[string]string{
			"2026-05-17T23:59:59Z": "former owner", "2026-05-18T00:00:00Z": "new owner",
			"2026-05-18T02:00:00Z": "new owner", "2026-05-18T23:59:59Z": "new owner",
		} {
			if got := tiedText(Tied(ties, people, at(moment))); got != want {
				t.Errorf("%s at %s: got %q, want %q", place, moment, got, want)
			}
		}
	}
}

func TestWhoMayBeWrittenToForWhat(t *testing.T) {
	out, noYear := map[string]bool{"p1": true}, map[string]bool{"p1": true}
	owner := Recipient{Person: "p1", Role: "owner", Notices: true, Yearly: true}
	dead, refused, noNotices, noLetter := owner, owner, owner, owner
	dead.Deceased, refused.Refused, noNotices.Notices, noLetter.Yearly = true, true, false, false
	for _, c := range []struct {
		name string
		c    Case
		r    Recipient
		want string // for service, the year's letter and safety
	}{
		{"an owner", Case{}, owner, "yes yes yes"},
		{"who opted out of service notices", Case{OptOuts: out}, owner, "OPTED_OUT yes yes"},
		{"who opted out of the letter", Case{NoYear: noYear}, owner, "yes OPTED_OUT yes"},
		{"who died", Case{}, dead, "DECEASED DECEASED DECEASED"},
		{"who took back consent", Case{}, refused, "NO_CONSENT yes yes"},
		{"who did not ask for the letter", Case{}, noLetter, "yes NO_CONSENT yes"},
		{"whom notices do not go to", Case{}, noNotices, "no yes yes"},
		{"of a vehicle that is no more", Case{Vehicle: Vehicle{Scrapped: true}}, owner, "SCRAPPED SCRAPPED SCRAPPED"},
	} {
		var got []string
		for _, p := range []Purpose{Service, YearLetter, Safety} {
			reason, ok := c.c.Allowed(c.r, p)
			switch {
			case ok:
				reason = "yes"
			case reason == "":
				reason = "no"
			}
			got = append(got, reason)
		}
		if text := strings.Join(got, " "); text != c.want {
			t.Errorf("%s: got %s, want %s", c.name, text, c.want)
		}
	}
	if _, ok := (Case{}).Allowed(owner, 0); !ok {
		t.Error("an unset purpose is service")
	}
}
