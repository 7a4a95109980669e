package reminderjob

import (
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle/vehiclewire"
)

// TestWhatHappensBetweenClaimAndSendingSilences lets something happen after the
// claim, by each channel: the gateway and the mail server were down, and the
// letter was not printed yet.
func TestWhatHappensBetweenClaimAndSendingSilences(t *testing.T) {
	happenings := map[string]func(*testing.T, *exchange){
		"a service entry": func(_ *testing.T, e *exchange) {
			done := item("E01", today.AddDays(365))
			done.Cycle = "E01.2026-05-18"
			e.town.vehicle(serial(1), done)
		},
		"an answer": func(t *testing.T, e *exchange) {
			a := reminder.Answer{
				ID: "a1", Serial: serial(1), Person: "p1", Kind: reminder.Booked, Cycles: []string{"E01.2025-05-01"}, Day: today.AddDays(3), Created: noon,
			}
			if _, err := e.Store.CreateAnswer(t.Context(), reminderstore.Request{ID: uuid.NewString(), Payload: &reminderv1.CreateAnswerRequest{}}, a, nil); err != nil {
				t.Fatal(err)
			}
		},
		"a transfer": func(_ *testing.T, e *exchange) {
			e.town.ties[string(serial(1))][0].EndDate = vehiclewire.DateProto(today)
		},
		"a death": func(_ *testing.T, e *exchange) {
			e.town.people["people/p1"].DeceasedDate = vehiclewire.DateProto(today)
		},
		"the end of the vehicle": func(_ *testing.T, e *exchange) {
			name := "vehicles/" + string(serial(1)) + "/standing"
			e.town.standings[name] = &ownerv1.Standing{Name: name, State: ownerv1.StandingState_STANDING_STATE_SCRAPPED}
		},
		"an opt-out": func(t *testing.T, e *exchange) {
			o := reminder.OptOut{Serial: serial(1), Person: "p1", Purpose: reminder.Service, Way: "page", Created: noon}
			if _, err := e.Store.OptOut(t.Context(), reminderRequest(), o); err != nil {
				t.Fatal(err)
			}
		},
	}
	for name, happens := range happenings {
		for way, first := range map[ownerv1.ContactWay]string{
			wayMail: "claimed 1 waiting 1", wayText: "claimed 1 waiting 1", wayLetter: "claimed 1 letters 1",
		} {
			t.Run(name+" before a "+way.String(), func(t *testing.T) {
				e := newExchange(t)
				e.town.vehicle(serial(1), item("E01", today))
				e.reachable(serial(1), "p1", phoneOne, way)
				e.texts.status = http.StatusServiceUnavailable
				e.post.does = func(string, []byte) reminder.Attempt {
					return reminder.Attempt{Outcome: reminder.TryLater, Text: "451 4.3.0 later"}
				}
				e.Mail = e.post
				e.want(t, "claimed and not sent", first)
				happens(t, e)
				e.texts.status = http.StatusAccepted
				e.post.does = nil
				e.now = e.now.Add(time.Hour)
				r := e.run(t)
				if r.Silenced != 1 || r.Sent+r.Letters != 0 {
					t.Errorf("the next pass: %s", counts(r))
				}
				for _, c := range e.Store.Claims(serial(1)) {
					if c.Task == "" {
						t.Errorf("it cannot have arrived, and the claim %+v is there", c)
					}
				}
				if e.post.total() != 0 || len(e.texts.all()) > 1 {
					t.Errorf("%d mails, %d text messages", e.post.total(), len(e.texts.all()))
				}
			})
		}
	}
}

// TestAnAnswerThatHasRunOutLetsTheNoticeGo: booked work silences until seven
// days after its day (common practice, no source).
func TestAnAnswerThatHasRunOutLetsTheNoticeGo(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	e.town.owner(serial(1), "p1")
	a := reminder.Answer{ID: "a1", Serial: serial(1), Kind: reminder.Booked, Cycles: []string{"E01.2025-05-01"}, Day: today.AddDays(1), Created: noon}
	if _, err := e.Store.CreateAnswer(t.Context(), reminderstore.Request{ID: uuid.NewString(), Payload: &reminderv1.CreateAnswerRequest{}}, a, nil); err != nil {
		t.Fatal(err)
	}
	e.want(t, "while it is booked", "")
	e.now = noon.AddDate(0, 0, 7)
	e.want(t, "six days after the day", "")
	e.now = noon.AddDate(0, 0, 8)
	e.want(t, "seven days after it", "claimed 1 sent 1")
}
