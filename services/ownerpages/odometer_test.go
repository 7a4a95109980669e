package ownerpages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
)

// filled is the page's form with fields changed, in pairs of name and value.
func filled(form url.Values, pairs ...string) url.Values {
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return form
}

func TestTheOdometerIsReported(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-04-01", "12000", "km")
	address := link(t, server, links.Odometer)
	page := get(t, address)
	form := page.page.form(t, "Send")
	if form.Get("unit") != "km" || form.Get("date") != "2026-05-18" || !strings.Contains(page.say(), "The last reading that we have: 12,000 km on 1 April 2026.") {
		t.Fatalf("%v in %s", form, page.say())
	}
	a := post(t, address, filled(form, "value", "12 345.6", "date", "2026-05-17"))
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "We have 12,345.6 km for AM0147P, read on 17 May 2026.") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	// It says what the reading changed, and not only that it is there.
	if !strings.Contains(a.say(), "These days have changed: Change engine oil and filter: now due by 31 May 2026; before, by 10 June 2026.") {
		t.Errorf("what it changed: %s", a.say())
	}
	if strings.Contains(a.say(), "brake fluid: now due") {
		t.Errorf("it tells of a day that has not changed: %s", a.say())
	}
	r := d.readings[1]
	if r.GetSource() != schedulev1.ReadingSource_READING_SOURCE_OWNER || r.GetValue().GetEnteredValue() != "12345.6" || r.GetValue().GetEnteredUnit() != "km" ||
		r.GetReadingDate().GetDay() != 17 {
		t.Errorf("recorded %v", r)
	}
	// Sent twice, it is recorded once.
	if again := post(t, address, form); again.StatusCode != http.StatusOK || d.count() != 1 {
		t.Errorf("again: %d, %d changes", again.StatusCode, d.count())
	}
	// From the thank-you page the right figures are a press away.
	if next := get(t, server.URL+a.page.press(t, "Send the right figures")); next.StatusCode != http.StatusOK || !strings.Contains(next.say(), "12,345.6 km on 17 May 2026") {
		t.Errorf("got %d, %s", next.StatusCode, next.say())
	}
}

func TestTheLastReadingIsInTheReadersUnitAndAsTheDialHasIt(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-04-01", "4818", "mi")
	d.person.DistanceUnit = "km"
	for _, purpose := range []links.Purpose{links.Odometer, links.Schedule} {
		if a := get(t, link(t, server, purpose)); !strings.Contains(a.say(), "The last reading that we have: 7,754 km (4,818 miles) on 1 April 2026.") {
			t.Errorf("%c: %s", purpose, a.say())
		}
	}
}

func TestADoubtfulReadingIsKeptAndToldOf(t *testing.T) {
	d, server := newDesk(t)
	d.state = schedulev1.ReadingState_READING_STATE_DOUBTFUL
	address := link(t, server, links.Odometer)
	a := post(t, address, filled(get(t, address).page.form(t, "Send"), "value", "12345"))
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "somebody here looks at it first") || strings.Contains(a.say(), "now due") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
}

func TestFiguresThatMayMeanTwoThingsAreAskedBack(t *testing.T) {
	for _, c := range []struct{ language, typed, choice, other, send, want string }{
		{"en-GB", "3.150", "3,150 km", "3.150 km, that is 3 and a fraction", "Send", "3150"},
		{"de-DE", "3,150", "3.150 km", "3,150 km, das heißt 3 und ein Bruchteil", "Absenden", "3150"},
	} {
		d, server := newDesk(t)
		d.person.Language = c.language
		address := link(t, server, links.Odometer)
		a := post(t, address, filled(get(t, address).page.form(t, c.send), "value", c.typed))
		if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), c.choice) || !strings.Contains(a.say(), c.other) || d.count() != 0 {
			t.Fatalf("%s: got %d, %s, %d changes", c.language, a.StatusCode, a.say(), d.count())
		}
		form := a.page.form(t, c.send)
		if form.Has("exact") {
			t.Errorf("%s: one is chosen beforehand: %v", c.language, form)
		}
		a = post(t, address, filled(form, "exact", c.want))
		if a.StatusCode != http.StatusOK || len(d.readings) != 1 || d.readings[0].GetValue().GetEnteredValue() != c.want {
			t.Errorf("%s: got %d, %s, %v", c.language, a.StatusCode, a.say(), d.readings)
		}
	}
}

func TestAnUnlikelyReadingIsAskedBackOnce(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-05-15", "12000", "km")
	address := link(t, server, links.Odometer)
	a := post(t, address, filled(get(t, address).page.form(t, "Send"), "value", "18,437"))
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "That is 6,437 km in 3 days, after 12,000 km on 15 May 2026. Is it right?") || d.count() != 0 {
		t.Fatalf("got %d, %s, %d changes", a.StatusCode, a.say(), d.count())
	}
	// Corrected to something else that is unlikely, it is asked again.
	form := a.page.form(t, "It is right, send it")
	other := post(t, address, filled(form, "value", "11000"))
	if !strings.Contains(other.say(), "less than the 12,000 km") || d.count() != 0 {
		t.Fatalf("got %s, %d changes", other.say(), d.count())
	}
	// Sent again as it is, it goes to the works.
	d.state = schedulev1.ReadingState_READING_STATE_DOUBTFUL
	a = post(t, address, other.page.form(t, "It is right, send it"))
	if a.StatusCode != http.StatusOK || len(d.readings) != 2 || d.readings[1].GetValue().GetEnteredValue() != "11000" || !strings.Contains(a.say(), "looks at it first") {
		t.Errorf("got %d, %s, %v", a.StatusCode, a.say(), d.readings)
	}
}

func TestWhatIsWrongIsSaidBesideWhatWasTyped(t *testing.T) {
	d, server := newDesk(t)
	address := link(t, server, links.Odometer)
	good := get(t, address).page.form(t, "Send")
	good.Set("value", "12345")
	for _, c := range []struct{ name, field, value, want string }{
		{"no figures", "value", "", "as the odometer shows them"},
		{"a flood of figures", "value", strings.Repeat("1", 5000), "as the odometer shows them"},
		{"words", "value", "about 12000", "as the odometer shows them"},
		{"markup", "value", `"><script>alert(1)</script>`, "as the odometer shows them"},
		{"no unit", "unit", "", "miles or kilometres"},
		{"an exact value that is none", "exact", "x", "as the odometer shows them"},
		{"a date that is none", "date", "31/02/2026", "not later than today"},
		{"tomorrow", "date", "2026-05-19", "not later than today"},
	} {
		form := url.Values{}
		for k, v := range good {
			form[k] = v
		}
		a := post(t, address, filled(form, c.field, c.value))
		if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), c.want) || strings.Contains(a.body, "<script") {
			t.Errorf("%s: got %d, %s", c.name, a.StatusCode, a.say())
		}
		if form := a.page.form(t, "Send"); c.field != "exact" && c.field != "unit" && form.Get(c.field) != strings.TrimSpace(c.value) {
			t.Errorf("%s: what was typed is gone: %v", c.name, form)
		}
	}
	// What the service refuses is said the same way.
	refused, err := status.New(codes.InvalidArgument, "no").WithDetails(&errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{
		{Field: "reading.reading_date", Description: "got 2027-01-01, want today or earlier"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	d.refuse = refused.Err()
	if a := post(t, address, good); a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), "not later than today") ||
		a.page.form(t, "Send").Get("value") != "12345" {
		t.Errorf("refused by the service: got %d, %s", a.StatusCode, a.say())
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}

// Somebody sends what they sent before: it stays one reading, and it is said.
func TestTheSameReadingAgainIsHadAlready(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-04-01", "12000", "km")
	address := link(t, server, links.Odometer)
	first := get(t, address).page.form(t, "Send")
	post(t, address, filled(first, "value", "12345"))
	// By a new form, by the old one, and written in another way.
	for _, form := range []url.Values{
		filled(get(t, address).page.form(t, "Send"), "value", "12345"), filled(first, "value", "12345"),
		filled(get(t, address).page.form(t, "Send"), "value", "12,345"),
	} {
		a := post(t, address, form)
		if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "We have that already We have 12,345 km for AM0147P, read on 18 May 2026.") || len(d.readings) != 2 {
			t.Errorf("got %d, %s, %d readings", a.StatusCode, a.say(), len(d.readings))
		}
	}
	// What waits for a person still does, and is not asked back again.
	d.state = schedulev1.ReadingState_READING_STATE_DOUBTFUL
	a := post(t, address, filled(get(t, address).page.form(t, "Send"), "value", "11000"))
	post(t, address, a.page.form(t, "It is right"))
	a = post(t, address, filled(get(t, address).page.form(t, "Send"), "value", "11000"))
	if !strings.Contains(a.say(), "We have that already") || !strings.Contains(a.say(), "somebody here looks at it first") || len(d.readings) != 3 {
		t.Errorf("got %d, %s, %d readings", a.StatusCode, a.say(), len(d.readings))
	}
	// Somebody else's word is another's, and what a person decided is decided.
	for _, settled := range []*schedulev1.Settlement{nil, {Reason: "another vehicle's"}} {
		d.readings[2].StatedBy, d.readings[2].Settlement = "people/p0040", settled
		if settled != nil {
			d.readings[2].StatedBy = thePerson
		}
		if a := post(t, address, filled(get(t, address).page.form(t, "Send"), "value", "11000")); strings.Contains(a.say(), "We have that already") {
			t.Errorf("got %s", a.say())
		}
	}
}

func TestAReadingOfLongAgoIsRefused(t *testing.T) {
	for _, c := range []struct{ name, delivered, on, want string }{
		{"before a year", "2020-01-01", "2025-05-17", "Please give a day on or after 18 May 2025."},
		{"of another century", "2020-01-01", "1999-12-31", "on or after 18 May 2025"},
		{"a year ago", "2020-01-01", "2025-05-18", ""},
		{"before the delivery", "2026-03-01", "2026-02-28", "The vehicle was handed over on 1 March 2026."},
		{"on the day of the delivery", "2026-03-01", "2026-03-01", ""},
	} {
		d, server := newDesk(t)
		d.delivered = date(c.delivered)
		address := link(t, server, links.Odometer)
		a := post(t, address, filled(get(t, address).page.form(t, "Send"), "value", "120", "date", c.on))
		if (a.StatusCode == http.StatusOK) != (c.want == "") || !strings.Contains(a.say(), c.want) || (len(d.readings) == 1) != (c.want == "") {
			t.Errorf("%s: got %d, %s", c.name, a.StatusCode, a.say())
		}
	}
}

func TestMoreThanTheDialShowsIsSaid(t *testing.T) {
	for _, c := range []struct {
		digits            int32
		value, want, then string
	}{
		{5, "999999999", "it has no more than 5 digits, so the most is 99,999", ""},
		{6, "10,000,000", "it has no more than 6 digits, so the most is 999,999", ""},
		{0, "999999999", "it has no more than 7 digits, so the most is 9,999,999", ""},
		{5, strings.Repeat("9", 40), "it has no more than 5 digits", ""},
		{5, "9999999.5", "it has no more than 5 digits", ""},
		// A record may be wrong about a dial, so what it may show is asked back.
		{5, "123456", "By our records the odometer has 5 digits and shows 99,999 at most; perhaps the last figure is a tenth. Is it right?", "123456"},
		{5, "99999.9", "", "99999.9"},
		{0, "123456", "", "123456"},
	} {
		for _, purpose := range []links.Purpose{links.Odometer, links.Done} {
			d, server := newDesk(t)
			d.dialDigits = c.digits
			d.notice.Lines = d.notice.Lines[:1]
			address := link(t, server, purpose)
			a := post(t, address, filled(get(t, address).page.form(t, "Send"), "value", c.value))
			if c.want != "" && (!strings.Contains(a.say(), c.want) || d.count() != 0 || strings.Contains(a.say(), "3150")) {
				t.Errorf("%c, %s on %d digits: got %d, %s", purpose, c.value, c.digits, a.StatusCode, a.say())
				continue
			}
			if c.then != "" && c.want != "" {
				a = post(t, address, a.page.form(t, "It is right"))
			}
			if c.then != "" && !strings.Contains(a.say(), "Thank you") {
				t.Errorf("%c, %s on %d digits, meant: got %d, %s", purpose, c.value, c.digits, a.StatusCode, a.say())
			}
		}
	}
}
