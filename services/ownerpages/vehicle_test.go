package ownerpages_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html/atom"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle/vehiclewire"
)

func TestTheVehiclesPageSaysWhichItIsAndNotWhatAThiefWants(t *testing.T) {
	d, server := newDesk(t)
	d.programme, d.delivered = "programmes/pack-horse/versions/2", date("2019-05-01")
	a := get(t, link(t, server, links.Schedule))
	for _, want := range []string{
		"Pack Horse AM0147P", "Wheelbase short", "Finish renewed: moor green", "Handed over on 1 May 2019",
		"Alfa Mike zero one four seven Papa", "The next 24 months of AM0147P",
	} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	d.person = &ownerv1.Person{Language: "de-DE"}
	if a := get(t, link(t, server, links.Schedule)); !strings.Contains(a.say(), "Alfa Mike null eins vier sieben Papa") {
		t.Errorf("a German reader is to spell it otherwise than our messages say: %s", a.say())
	}
	// Of the build record it keeps to what anybody sees who stands beside it.
	for _, not := range []string{"24000-10000", "K300", "AM 147 PH"} {
		if strings.Contains(a.body, not) {
			t.Errorf("it says %q", not)
		}
	}
}

// followUp is a campaign in a state.
func followUp(title string, state bulletinv1.FollowUpState, stop bool) *bulletinv1.VehicleBulletin {
	return &bulletinv1.VehicleBulletin{
		Bulletin: &bulletinv1.Bulletin{Title: title, Fault: "The hose swells.", Consequence: "It bursts.", Meanwhile: "Leave it standing.", Caution: "Chock the wheels.", StopUse: stop},
		FollowUp: &bulletinv1.FollowUp{State: state, StopUse: stop, BookedDate: vehiclewire.DateProto(date("2026-05-29"))},
	}
}

// The letter that forbids driving leads to this page, which must not say less.
func TestAVehicleThatIsNotToBeDrivenSaysSoBeforeAnythingElse(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-04-01", "12000", "km")
	d.bulletins = []*bulletinv1.VehicleBulletin{
		{Bulletin: &bulletinv1.Bulletin{Title: "Advice on wax"}},
		followUp("Pinion nuts", bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOTIFIED, false),
		followUp("Done already", bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE, false),
		followUp("Called off", bulletinv1.FollowUpState_FOLLOW_UP_STATE_CALLED_OFF, false),
		followUp("Brake hoses", bulletinv1.FollowUpState_FOLLOW_UP_STATE_BOOKED, true),
	}
	a := get(t, link(t, server, links.Schedule))
	say := a.say()
	for _, want := range []string{
		"Do not drive it Brake hoses What is wrong: The hose swells. What can happen: It bursts. What to do until it is put right: Leave it standing. It is booked for 29 May 2026. It costs you nothing",
		"Caution: Chock the wheels.", "Safety campaign, free of charge Pinion nuts",
	} {
		if !strings.Contains(say, want) {
			t.Errorf("without %q: %s", want, say)
		}
	}
	stop, other, due := strings.Index(say, "Brake hoses"), strings.Index(say, "Pinion nuts"), strings.Index(say, "pieces of work")
	if stop > other || other > due && due > 0 {
		t.Errorf("what forbids driving does not come first: %s", say)
	}
	for _, not := range []string{"Advice on wax", "Done already", "Called off"} {
		if strings.Contains(say, not) {
			t.Errorf("it says %q: %s", not, say)
		}
	}
}

// With nothing due by the programme it does not say that nothing is to be done.
func TestBesideACampaignNothingElseIsToBeDone(t *testing.T) {
	d, server := newDesk(t)
	d.now = now.AddDate(-1, 0, 0)
	d.bulletins = []*bulletinv1.VehicleBulletin{followUp("Brake hoses", bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN, true)}
	a := get(t, link(t, server, links.Schedule))
	if !strings.Contains(a.say(), "Apart from that nothing is to be done now.") || strings.Contains(a.say(), "Nothing is to be done now.") {
		t.Errorf("got %s", a.say())
	}
}

// Every page that may lead on has the one navigation, and says where one is.
func TestTheNavigationStandsOnEveryPageThatMayLeadOn(t *testing.T) {
	d, server := newDesk(t)
	for _, purpose := range purposes {
		a := get(t, link(t, server, purpose))
		n, here := 0, 0
		for _, nav := range a.page.all(atom.Nav) {
			for e := range nav.Descendants() {
				if e.DataAtom == atom.A {
					n++
					if attribute(e, "aria-current") == "page" {
						here++
					}
				}
			}
		}
		want, wantHere := 5, 0
		switch purpose {
		case links.Unsubscribe, links.StopYearLetter:
			want = 0
		case links.Schedule, links.Odometer, links.History, links.Handbook, links.People:
			wantHere = 1
		}
		if n != want || here != wantHere {
			t.Errorf("%c: %d ways and %d of them here, want %d and %d", purpose, n, here, want, wantHere)
		}
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}

func TestTheFiguresSpeakTheReadersLanguage(t *testing.T) {
	d, server := newDesk(t)
	for language, want := range map[string]string{"de-DE": "Dasselbe als Tabelle", "en-GB": "The same as a table"} {
		d.person = &ownerv1.Person{Language: language}
		if a := get(t, link(t, server, links.Schedule)); !strings.Contains(a.say(), want) {
			t.Errorf("%s: without %q: %s", language, want, a.say())
		}
	}
}

// The message with a handbook, a campaign or the year is about no work that is
// due: its reader can answer about all of it.
func TestWorkIsAnsweredFromAnyMessage(t *testing.T) {
	for _, purpose := range []ownerv1.Purpose{ownerv1.Purpose_PURPOSE_HANDBOOK, ownerv1.Purpose_PURPOSE_SAFETY, ownerv1.Purpose_PURPOSE_YEAR_LETTER} {
		d, server := newDesk(t)
		d.notice.Purpose, d.notice.Lines = purpose, []*reminderv1.NoticeLine{{ItemId: "HANDBOOK", Cycle: "HANDBOOK.3-1f0c9a2b"}}
		a := get(t, link(t, server, links.Schedule))
		for _, label := range []string{"It is booked", "It is done", "Remind me later"} {
			if !strings.Contains(a.say(), label) {
				t.Errorf("%v: without %q: %s", purpose, label, a.say())
			}
		}
		a = post(t, link(t, server, links.Booked), url.Values{"day": {"2026-06-01"}})
		if a.StatusCode != http.StatusOK || len(d.answers) != 1 || d.answers[0].GetNotice() != "" || !slices.Contains(d.answers[0].GetCycles(), "E01.2025-06-10") {
			t.Errorf("%v: got %d, %v, %s", purpose, a.StatusCode, d.answers, a.say())
		}
	}
}
