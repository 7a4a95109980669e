package exchangerun_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/exchange/exchangerun"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/testdata/aldermoor"
)

func TestWhatWasSaidAndHeardGoesOutAndAnImportNamesWhoDoesNotWantToBeWrittenTo(t *testing.T) {
	ctx, c := emptyWorks(t)
	importFrom(t, ctx, c, fewVehicles(t))
	ties, err := c.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/-", PageSize: 1})
	if err != nil {
		t.Fatal(err)
	}
	person := ties.GetTies()[0].GetPerson()
	serial := ties.GetTies()[0].GetName()[len("vehicles/"):][:7]
	said := []exchangerun.OptOut{{Serial: serial, Person: person[len("people/"):], Purpose: "service"}, {Serial: serial, Person: person[len("people/"):], Purpose: "year-letter"}}
	stop := func(c exchangerun.Clients) {
		t.Helper()
		for _, purpose := range []ownerv1.Purpose{ownerv1.Purpose_PURPOSE_SERVICE, ownerv1.Purpose_PURPOSE_YEAR_LETTER} {
			o := &reminderv1.OptOut{Vehicle: "vehicles/" + serial, Person: person, Purpose: purpose, Way: "staff"}
			if _, err := c.Reminders.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{OptOut: o}); err != nil {
				t.Fatal(err)
			}
		}
	}
	stop(c)
	up, err := c.Reminders.ListPending(ctx, &reminderv1.ListPendingRequest{Parent: "vehicles/" + serial})
	if err != nil || len(up.GetLines()) == 0 {
		t.Fatal(up, err)
	}
	answer := &reminderv1.Answer{
		Person: person, Kind: reminderv1.AnswerKind_ANSWER_KIND_DONE, Cycles: []string{up.GetLines()[0].GetCycle()},
		AnswerDate: vehiclewire.DateProto(aldermoor.Today.AddDays(-3)), Workshop: "Moor Garage",
	}
	if _, err := c.Reminders.CreateAnswer(ctx, &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial, Answer: answer}); err != nil {
		t.Fatal(err)
	}
	cadence := &reminderv1.Cadence{Name: "cadences/routine", EarlyDays: 20, OverdueDays: 30, WorksDays: 30, ApartDays: 14}
	if _, err := c.Reminders.UpdateCadence(ctx, &reminderv1.UpdateCadenceRequest{Cadence: cadence}); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Owners.OfferTransfer(ctx, &ownerv1.OfferTransferRequest{Parent: "vehicles/" + serial, OfferedBy: person}); err != nil {
		t.Fatal(err)
	}

	dir, _ := exportTo(t, ctx, c, "csv")
	wantHistory(t, dir, person, map[string]int{"answers": 1, "tasks": 1, "opt-outs": 2, "cadences": 1, "transfers": 1})
	if r := importFrom(t, ctx, c, dir); r.Written != 0 || len(r.Left) != 5 || len(r.OptOuts) != 0 {
		t.Errorf("where it came from: %+v", r)
	}

	ctx, c = emptyWorks(t)
	r := importFrom(t, ctx, c, dir)
	if diff := cmp.Diff(said, r.OptOuts); diff != "" || len(r.Left) != 5 {
		t.Errorf("left %v; not taken over (-want +got):\n%s", r.Left, diff)
	}
	var text bytes.Buffer
	if err := r.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"Left as it is: what was said to owners and heard from them, in " + filepath.Join(dir, "history") + ".\n",
		"NOT TAKEN OVER: 2 wishes not to be written to.",
		"\n  halfshaft stop " + serial + " " + said[0].Person + " --purpose year-letter\n",
	} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the report does not say %q:\n%s", want, text.String())
		}
	}
	stop(c)
	if r := importFrom(t, ctx, c, dir); len(r.OptOuts) != 0 {
		t.Errorf("once they are recorded: %+v", r.OptOuts)
	}

	path := filepath.Join(dir, "history", "opt-outs.jsonl")
	if err := os.WriteFile(path, []byte("\n{\"vehicle\":\"vehicles/AM0101G\"}\nnonsense\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	r, err = exchangerun.Import(ctx, c, []string{dir}, exchangerun.Options{Today: aldermoor.Today})
	if err != nil || r.Total != 2 || r.Faults[0].File != path || r.Faults[0].Row != 2 || r.Faults[1].Row != 3 {
		t.Errorf("with lines that say nobody: %+v, %v", r, err)
	}
}

// wantHistory wants so many JSON objects in each file of a history, a word
// about them, and nothing that says who the person is.
func wantHistory(t *testing.T, dir, person string, want map[string]int) {
	t.Helper()
	got := map[string]int{}
	for name, text := range bytesOf(t, filepath.Join(dir, "history")) {
		for _, own := range []string{"Harrowgate", "harbour.example", "+441632960100"} {
			if strings.Contains(text, own) {
				t.Errorf("history/%s says %q", name, own)
			}
		}
		if name == "README.txt" {
			continue
		}
		for line := range strings.Lines(text) {
			var object struct{ Name, Person string }
			if err := json.Unmarshal([]byte(line), &object); err != nil || object.Name == "" || object.Person != "" && object.Person != person {
				t.Errorf("history/%s: %v in %s", name, err, line)
			}
			got[strings.TrimSuffix(name, ".jsonl")]++
		}
	}
	about, err := os.ReadFile(filepath.Join(dir, "history", "README.txt"))
	if err != nil {
		t.Fatal(err)
	}
	for name := range want {
		if !strings.Contains(string(about), name+".jsonl") {
			t.Errorf("the README does not say what %s.jsonl is", name)
		}
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("history (-want +got):\n%s", diff)
	}
}
