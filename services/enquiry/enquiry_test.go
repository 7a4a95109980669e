package enquiry_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"halfshaft/services/enquiry"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

var noon = time.Date(2026, 5, 18, 12, 0, 0, 0, time.UTC)

// good is an enquiry with nothing wrong.
func good() enquiry.Enquiry {
	return enquiry.Enquiry{
		Serial: "AM0147P", ID: "e1", Channel: enquiry.Telephone, Asker: enquiry.Owner, Person: "p0031",
		Question: "Is this drip normal?", Positions: []string{"left-swivel-housing"}, Symptom: "drip at the swivel", Asked: noon,
	}
}

func TestAnEnquiryIsRefusedForAllThatIsWrongAtOnce(t *testing.T) {
	if err := good().Check(noon); err != nil {
		t.Fatalf("a good one is refused: %v", err)
	}
	for name, c := range map[string]struct {
		change func(*enquiry.Enquiry)
		fields []string
	}{
		"nothing said":                  {func(e *enquiry.Enquiry) { e.Channel, e.Asker, e.Question, e.Symptom = 0, 0, "", "" }, []string{"channel", "asker_kind", "question"}},
		"a symptom is enough":           {func(e *enquiry.Enquiry) { e.Question = "" }, nil},
		"an address in the symptom":     {func(e *enquiry.Enquiry) { e.Symptom = "write to a@b.example" }, []string{"symptom"}},
		"a number in the symptom":       {func(e *enquiry.Enquiry) { e.Symptom = "ring 01632 960100" }, []string{"symptom"}},
		"a measured value in it":        {func(e *enquiry.Enquiry) { e.Symptom = "0.18 mm at 12000 miles" }, nil},
		"works with a person":           {func(e *enquiry.Enquiry) { e.Asker = enquiry.Works }, []string{"person"}},
		"an owner with an organisation": {func(e *enquiry.Enquiry) { e.Organisation = "ferncombe" }, []string{"organisation"}},
		"a dealer with one":             {func(e *enquiry.Enquiry) { e.Asker, e.Organisation = enquiry.Dealer, "ferncombe" }, nil},
		"asked tomorrow":                {func(e *enquiry.Enquiry) { e.Asked = noon.Add(time.Second) }, []string{"ask_time"}},
		"to come back to before it":     {func(e *enquiry.Enquiry) { e.FollowUp = vehicle.MustDate(2026, 5, 17) }, []string{"follow_up_date"}},
		"to come back to that day":      {func(e *enquiry.Enquiry) { e.FollowUp = vehicle.MustDate(2026, 5, 18) }, nil},
		"closed and to come back to":    {func(e *enquiry.Enquiry) { e.Closed, e.FollowUp = true, vehicle.MustDate(2026, 6, 1) }, []string{"follow_up_date"}},
		"no position":                   {func(e *enquiry.Enquiry) { e.Positions = []string{"Left swivel"} }, []string{"positions[0]"}},
		"a web address for a link": {func(e *enquiry.Enquiry) {
			e.Answers = []enquiry.Answer{{Text: "x", At: noon, Links: []string{"https://aldermoor.example/x"}}}
		}, []string{"answers[0].links[0]"}},
		"too long": {func(e *enquiry.Enquiry) { e.Question = strings.Repeat("x", 4001) }, []string{"question"}},
	} {
		t.Run(name, func(t *testing.T) {
			e := good()
			c.change(&e)
			err := e.Check(noon)
			var names []string
			for _, f := range fault.FieldsOf("", err) {
				names = append(names, f.Name)
			}
			if !slices.Equal(names, c.fields) {
				t.Errorf("got %v (%v), want %v", names, err, c.fields)
			}
			if err != nil && strings.Contains(err.Error(), "960100") {
				t.Errorf("the refusal repeats it: %v", err)
			}
		})
	}
}

func TestTimeToAnswerCountsEachMinuteThatHasBegun(t *testing.T) {
	for _, c := range []struct {
		after time.Duration
		want  int
	}{{0, 1}, {time.Second, 1}, {time.Minute, 1}, {time.Minute + 1, 2}, {26 * time.Hour, 26 * 60}, {-time.Hour, 1}} {
		e := good()
		e.Answers = []enquiry.Answer{{Text: "x", At: noon.Add(c.after)}, {Text: "y", At: noon.Add(100 * time.Hour)}}
		if got := e.MinutesToAnswer(); got != c.want {
			t.Errorf("after %s: %d, want %d", c.after, got, c.want)
		}
	}
	if got := good().MinutesToAnswer(); got != 0 {
		t.Errorf("unanswered: %d", got)
	}
}

func TestAnAnswerClosesAndSetsWhenToComeBack(t *testing.T) {
	june := vehicle.MustDate(2026, 6, 1)
	e := good()
	e.FollowUp = june
	open, err := e.Answered(enquiry.Answer{Text: "x"}, false, vehicle.Date{})
	if err != nil || open.FollowUp != june || open.Closed || len(open.Answers) != 1 {
		t.Errorf("unset leaves the day as it was: %+v, %v", open, err)
	}
	later, _ := open.Answered(enquiry.Answer{Text: "y"}, false, june.AddDays(7))
	if later.FollowUp != june.AddDays(7) || len(later.Answers) != 2 || len(open.Answers) != 1 {
		t.Errorf("a later day takes its place: %+v", later)
	}
	closed, err := later.Answered(enquiry.Answer{Text: "z"}, true, vehicle.Date{})
	if err != nil || !closed.Closed || !closed.FollowUp.IsZero() {
		t.Errorf("closing takes the day away: %+v, %v", closed, err)
	}
	if _, err := closed.Answered(enquiry.Answer{Text: "z"}, false, vehicle.Date{}); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("a closed one is answered: %v", err)
	}
	if _, err := open.Answered(enquiry.Answer{Text: "z"}, true, june); !fault.Is(err, fault.Invalid) {
		t.Errorf("closed, with a day to come back: %v", err)
	}
}

func TestWhatAPersonSaidIsNeverMadeNobodys(t *testing.T) {
	e, to := good(), good()
	to.Person = ""
	if _, err := e.Changed(to); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("the asker is taken off: %v", err)
	}
	to.Person, to.ID, to.RecordedBy, to.Answers = "p0032", "other", "somebody", []enquiry.Answer{{Text: "invented"}}
	got, err := e.Changed(to)
	if err != nil || got.Person != "p0032" || got.ID != "e1" || got.RecordedBy != "" || got.Answers != nil {
		t.Errorf("got %+v, %v", got, err)
	}
}

func TestAChangeOfANoteTakesItsReviewAway(t *testing.T) {
	n := enquiry.Note{ID: "drip", Title: "A drip", Text: "Is normal.", ReviewedBy: "ida", Reviewed: noon}
	if !n.For("R1") {
		t.Error("a reviewed note for all releases is not read out")
	}
	to := n
	to.ReviewedBy, to.Text = "", "Is not normal."
	if got := n.Changed(to); got.ReviewedBy != "" || got.For("R1") {
		t.Errorf("the review stays: %+v", got)
	}
	same := n
	same.ReviewedBy, same.Retired = "", true
	if got := n.Changed(same); got.ReviewedBy != "ida" || got.For("R1") {
		t.Errorf("retiring takes the review, or leaves it in use: %+v", got)
	}
	n.Releases = []string{"R2", "R3"}
	if n.For("R1") || !n.For("R3") {
		t.Error("a note is for its releases")
	}
	if _, err := same.ReviewedNow("ida", noon); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("a retired note is reviewed: %v", err)
	}
}

// Each answer may be as long as it is told, and all of them together as long as
// one record holds.
func TestAnEnquiryIsFullWhenItsRecordIs(t *testing.T) {
	for sign, want := range map[string]int{"x": 40, "ü": 20, "🚙": 9} {
		e := good()
		e.Question = strings.Repeat(sign, 4000)
		n := 0
		for ; n < 50; n++ {
			next, err := e.Answered(enquiry.Answer{Text: strings.Repeat(sign, 4000), At: noon}, false, vehicle.Date{})
			var f *fault.Error
			if err != nil {
				if !errors.As(err, &f) || f.Reason != "ENQUIRY_FULL" {
					t.Errorf("%q: %v", sign, err)
				}
				break
			}
			e = next
		}
		if err := e.Check(noon); n != want || err != nil {
			t.Errorf("%d answers of %q go in, want %d: %v", n, sign, want, err)
		}
		e.Answers = slices.Repeat(e.Answers[:1], 45)
		if got := fault.FieldsOf("", e.Check(noon)); len(got) != 1 || got[0].Name != "answers" || got[0].Want != "at most 170 KiB" {
			t.Errorf("45 answers of %q: %v", sign, got)
		}
	}
}
