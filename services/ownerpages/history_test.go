package ownerpages_test

import (
	"strings"
	"testing"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/ownerpages"
)

func TestTheHistorySaysWhatWasDoneYearByYear(t *testing.T) {
	d, server := newDesk(t)
	d.delivered = date("2019-05-01")
	d.read("2020-03-02", "9000", "km")
	d.read("2021-03-02", "9900", "km")
	d.history()
	d.programme = "programmes/pack-horse/versions/2"
	a := get(t, link(t, server, links.History))
	for _, want := range []string{
		"What was done on AM0147P", "since it was handed over on 1 May 2019", "Distance of AM0147P",
		// The latest year is shown, the latest service first.
		"2020 2019", "5 November 2020 1 piece of work As its owner told us; we have seen no papers of it. Noted: changed it in the barn Change engine oil and filter",
		"2 March 2020, at 9,000 km 1 piece of work Done by Harbour Road Garage. Noted: runs quietly Check the end float of the transfer-case output bearing: end float 0.08 mm",
		"A new owner does not see: your name,",
	} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	// What was struck out is told nowhere, and of other years nothing is loaded.
	for _, not := range []string{"Change brake fluid", "of another vehicle", "fuel hoses"} {
		if strings.Contains(a.say(), not) {
			t.Errorf("it says %q: %s", not, a.say())
		}
	}
	// Work that is asked for no more has its name from the programme, and work of
	// which nothing is known its number.
	a = get(t, server.URL+a.page.press(t, "2019"))
	if !strings.Contains(a.say(), "1 September 2019 2 pieces of work Done by Harbour Road Garage. Renew the rubber fuel hoses work Q77") {
		t.Errorf("2019: %s", a.say())
	}
	for _, asked := range []string{"1980", "2021", "<b>", ""} {
		if a := get(t, link(t, server, links.History)+"?year="+asked); !strings.Contains(a.say(), "5 November 2020") || strings.Contains(a.body, "<b>") {
			t.Errorf("%q is not the latest year: %s", asked, a.say())
		}
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}

func TestTheHistoryIsSaidInTheReadersLanguageAndUnit(t *testing.T) {
	d, server := newDesk(t)
	d.person = &ownerv1.Person{Language: "de-DE", DistanceUnit: "mi"}
	d.read("2020-03-02", "9000", "km")
	d.history()
	server.Config.Handler = handler(t, d, func(c *ownerpages.Config) { c.Programme = translator{} })
	a := get(t, link(t, server, links.History))
	for _, want := range []string{
		"Was an AM0147P gemacht wurde", "2. März 2020, bei 5.592 Meilen (9.000 km)", // 9,000 km / 1.609344
		"de T01 title CHECK THE END FLOAT OF THE TRANSFER-CASE OUTPUT BEARING: de T01 measure END FLOAT 0,08 mm", "Ausgeführt von: Harbour Road Garage.",
	} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
}

func TestAHistoryOfNothingSaysSo(t *testing.T) {
	_, server := newDesk(t)
	if a := get(t, link(t, server, links.History)); !strings.Contains(a.say(), "No work is on record yet.") || strings.Contains(a.body, "<svg") {
		t.Errorf("got %s", a.say())
	}
}
