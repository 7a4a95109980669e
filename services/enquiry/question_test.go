package enquiry_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/enquiry"
	"halfshaft/services/vehicle"
)

var may18 = vehicle.MustDate(2026, 5, 18)

// known is a vehicle of which everything is known and nothing is wrong.
func known() enquiry.Circumstances {
	return enquiry.Circumstances{
		Serial: "AM0147P", Today: may18, Tied: true, KnowsTies: true, KnowsUse: true, KnowsReads: true,
		People: []enquiry.Person{{Name: "vehicles/AM0147P/ties/1", Role: "owner", Ways: 2}}, LastReading: may18.AddMonths(-3),
	}
}

func TestWhatIsWrongIsWarnedOfAndAskedAfter(t *testing.T) {
	why := vehicle.Reason{Rule: "READING_WANTED", Sentence: "The distance may come first."}
	open := enquiry.Campaign{Name: "vehicles/AM0147P/followUps/C-1", ID: "C-1", Title: "Bolts", Open: true}
	stop := open
	stop.ID, stop.StopUse, stop.Hold = "C-2", true, true
	for name, c := range map[string]struct {
		change   func(*enquiry.Circumstances)
		warned   []string // beginnings
		askedFor []string // rules
	}{
		"nothing":          {func(*enquiry.Circumstances) {}, nil, nil},
		"an open campaign": {func(c *enquiry.Circumstances) { c.Campaigns = []enquiry.Campaign{open} }, []string{"Open campaign C-1"}, []string{"CAMPAIGN_NOT_BOOKED"}},
		"a booked one":     {func(c *enquiry.Circumstances) { b := open; b.Booked = true; c.Campaigns = []enquiry.Campaign{b} }, []string{"Open campaign C-1"}, nil},
		"advice": {func(c *enquiry.Circumstances) {
			c.Campaigns = []enquiry.Campaign{{ID: "B-1", Advice: true, Open: true}}
		}, nil, nil},
		"stop-use before the rest":   {func(c *enquiry.Circumstances) { c.Campaigns = []enquiry.Campaign{open, stop} }, []string{"STOP USE", "Hold", "Open campaign C-1"}, []string{"STOP_USE", "CAMPAIGN_NOT_BOOKED", "CAMPAIGN_NOT_BOOKED"}},
		"scrapped: nothing is asked": {func(c *enquiry.Circumstances) { c.Standing, c.KnowsUse = enquiry.Scrapped, false }, []string{"It was scrapped"}, nil},
		"the owner died":             {func(c *enquiry.Circumstances) { c.People[0].Deceased = may18.AddDays(-9) }, []string{"The owner on record died"}, []string{"OWNER_DECEASED"}},
		"an estate":                  {func(c *enquiry.Circumstances) { c.Executor = may18.AddDays(-9) }, []string{"It belongs to an estate"}, nil},
		"a doubtful identity":        {func(c *enquiry.Circumstances) { c.DoubtIdentity = "two plates." }, []string{"Which vehicle it is"}, nil},
		"a doubtful reading, asked once": {func(c *enquiry.Circumstances) {
			c.Doubtful, c.ReadingAsk = []enquiry.Doubtful{{Date: may18, Value: vehicle.Entered{Value: vehicle.Decimal{Coefficient: 115616}, Unit: vehicle.Miles}}}, &why
		}, nil, []string{"READING_DOUBTFUL"}},
		"a reading would change a date": {func(c *enquiry.Circumstances) { c.ReadingAsk = &why }, nil, []string{"READING_WANTED"}},
		"no reading for a year":         {func(c *enquiry.Circumstances) { c.LastReading = may18.AddMonths(-12).AddDays(-1) }, nil, []string{"NO_READING_FOR_LONG"}},
		"a year to the day":             {func(c *enquiry.Circumstances) { c.LastReading = may18.AddMonths(-12) }, nil, nil},
		"no reading at all":             {func(c *enquiry.Circumstances) { c.LastReading = vehicle.Date{} }, nil, []string{"NO_READING"}},
		"readings could not be read":    {func(c *enquiry.Circumstances) { c.LastReading, c.KnowsReads = vehicle.Date{}, false }, nil, nil},
		"to come back to today and later": {func(c *enquiry.Circumstances) {
			c.FollowUps = []enquiry.FollowUp{{Day: may18, Symptom: "howl"}, {Day: may18.AddDays(1)}}
		}, nil, []string{"FOLLOW_UP_DUE"}},
		"no way to reach":             {func(c *enquiry.Circumstances) { c.People[0].Ways = 0 }, nil, []string{"NO_WAY"}},
		"nobody":                      {func(c *enquiry.Circumstances) { c.Tied, c.People = false, nil }, nil, []string{"NO_OWNER"}},
		"ties could not be read":      {func(c *enquiry.Circumstances) { c.Tied, c.People, c.KnowsTies = false, nil, false }, nil, nil},
		"cover hangs on something":    {func(c *enquiry.Circumstances) { c.CoverAsk = "When was it first registered?" }, nil, []string{"COVER_UNKNOWN"}},
		"no use declared, asked last": {func(c *enquiry.Circumstances) { c.KnowsUse, c.CoverAsk = false, "?" }, nil, []string{"COVER_UNKNOWN", "USE_UNKNOWN"}},
	} {
		t.Run(name, func(t *testing.T) {
			x := known()
			c.change(&x)
			warned := x.Warnings()
			if len(warned) != len(c.warned) {
				t.Errorf("warned %q, want %q", warned, c.warned)
			}
			for i := range min(len(warned), len(c.warned)) {
				if !strings.HasPrefix(warned[i], c.warned[i]) {
					t.Errorf("warned %q, want %q", warned[i], c.warned[i])
				}
			}
			var rules []string
			for _, q := range x.Questions() {
				rules = append(rules, q.Why.Rule)
				if q.Text == "" || q.Why.Sentence == "" {
					t.Errorf("a question without words: %+v", q)
				}
			}
			if !slices.Equal(rules, c.askedFor) {
				t.Errorf("asked for %v, want %v", rules, c.askedFor)
			}
		})
	}
}
