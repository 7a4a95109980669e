package reminderwire

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/type/date"
	"pgregory.net/rapid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

func TestNumbersOfStagesAndStatesAgree(t *testing.T) {
	for domain, wire := range map[reminder.Stage]reminderv1.Stage{
		reminder.NoStage: reminderv1.Stage_STAGE_UNSPECIFIED, reminder.Early: reminderv1.Stage_STAGE_EARLY, reminder.Due: reminderv1.Stage_STAGE_DUE,
		reminder.Overdue: reminderv1.Stage_STAGE_OVERDUE, reminder.Works: reminderv1.Stage_STAGE_WORKS,
	} {
		if StageProto(domain) != wire {
			t.Errorf("%v became %v", domain, StageProto(domain))
		}
	}
	for domain, wire := range map[reminder.State]reminderv1.NoticeState{
		reminder.Claimed: reminderv1.NoticeState_NOTICE_STATE_CLAIMED, reminder.Sent: reminderv1.NoticeState_NOTICE_STATE_SENT,
		reminder.Waiting: reminderv1.NoticeState_NOTICE_STATE_WAITING, reminder.Parked: reminderv1.NoticeState_NOTICE_STATE_PARKED,
		reminder.Silenced: reminderv1.NoticeState_NOTICE_STATE_SILENCED, reminder.Rerouted: reminderv1.NoticeState_NOTICE_STATE_REROUTED,
	} {
		if StateProto(domain) != wire {
			t.Errorf("%v became %v", domain, StateProto(domain))
		}
	}
	for domain, wire := range map[reminder.ReturnKind]reminderv1.ReturnKind{
		reminder.Failed: reminderv1.ReturnKind_RETURN_KIND_FAILED, reminder.GivenUp: reminderv1.ReturnKind_RETURN_KIND_GIVEN_UP,
		reminder.Delayed: reminderv1.ReturnKind_RETURN_KIND_DELAYED, reminder.Relayed: reminderv1.ReturnKind_RETURN_KIND_RELAYED,
		reminder.Delivered: reminderv1.ReturnKind_RETURN_KIND_DELIVERED, reminder.Complaint: reminderv1.ReturnKind_RETURN_KIND_COMPLAINT,
		reminder.AutoReply: reminderv1.ReturnKind_RETURN_KIND_AUTO_REPLY, reminder.Reply: reminderv1.ReturnKind_RETURN_KIND_REPLY,
	} {
		if ReturnKindProto(domain) != wire {
			t.Errorf("%v became %v", domain, ReturnKindProto(domain))
		}
	}
}

var genTime = rapid.Custom(func(t *rapid.T) time.Time {
	if rapid.Bool().Draw(t, "unset") {
		return time.Time{}
	}
	return time.Unix(rapid.Int64Range(1, 1<<33).Draw(t, "seconds"), 0).UTC()
})

func TestRecordsComeBackAsTheyWent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := reminder.Notice{
			ID: "AM0147P.E01.2026-05-01.early.mail.p0031", Serial: "AM0147P", Person: "p0031", Channel: reminder.Mail,
			Stage: reminder.Stage(rapid.IntRange(1, 3).Draw(t, "stage")), State: reminder.State(rapid.IntRange(1, 6).Draw(t, "state")),
			MessageID: "<a@b.example>", Claimed: genTime.Draw(t, "claimed"), Printed: genTime.Draw(t, "printed"), Sent: genTime.Draw(t, "sent"), Retried: genTime.Draw(t, "retried"),
			Attempts: rapid.IntRange(0, 99).Draw(t, "attempts"), NextAttempt: genTime.Draw(t, "next"), ServerAnswer: rapid.SampledFrom([]string{"", "250 ok"}).Draw(t, "answer"),
			Lines:   []reminder.ToldLine{{ItemID: "E01", Cycle: "E01.2026-05-01", Title: "Oil", ActBy: vehicle.MustDate(2027, 5, 1), Sentence: "Because.", Stage: reminder.Early}},
			Purpose: reminder.Purpose(rapid.IntRange(1, 3).Draw(t, "purpose")), Language: rapid.SampledFrom([]string{"", "de-CH"}).Draw(t, "language"),
			Segments: rapid.IntRange(0, 9).Draw(t, "segments"), Reference: rapid.SampledFrom([]string{"", "abcdefghijklmnopqrstuvwxyz"}).Draw(t, "reference"),
		}
		for range rapid.IntRange(0, 3).Draw(t, "returns") {
			n.Returns = append(n.Returns, reminder.Return{Kind: reminder.ReturnKind(rapid.IntRange(1, 8).Draw(t, "kind")), Time: genTime.Draw(t, "returned"), Text: "5.1.1 no such user"})
		}
		n.BodySHA256[0] = 7
		got, err := Notice(NoticeProto(n))
		if diff := cmp.Diff(n, got); diff != "" || err != nil {
			t.Fatalf("notice: %v\n%s", err, diff)
		}
		task := reminder.Task{
			ID: "AM0147P.E01.no-contact", Serial: "AM0147P", Kind: reminder.NoContact, Text: "Find out.",
			Notice: rapid.SampledFrom([]string{"", "AM0147P.E01"}).Draw(t, "notice"), Created: genTime.Draw(t, "created"), Completed: genTime.Draw(t, "completed"), Outcome: "Done.",
		}
		if got, err := Task(TaskProto(task)); err != nil || got != task {
			t.Fatalf("task: %v, %v", got, err)
		}
		out := reminder.OptOut{Serial: "AM0147P", Person: "p0031", Created: genTime.Draw(t, "opted out"), Way: "page", Purpose: rapid.SampledFrom([]reminder.Purpose{reminder.Service, reminder.YearLetter}).Draw(t, "purpose")}
		if got, err := OptOut(OptOutProto(out)); err != nil || got != out {
			t.Fatalf("opt-out: %v, %v", got, err)
		}
	})
}

func TestAScheduleIsReadAsFarAsRemindingNeedsIt(t *testing.T) {
	v, err := Vehicle(&schedulev1.Schedule{
		Name: "vehicles/AM0147P/schedule", Sample: true,
		Pace: &schedulev1.Pace{Unit: "km", EstimatedDistance: &vehiclev1.Distance{Millimetres: 5}, ReadingDate: &date.Date{Year: 2026, Month: 5, Day: 2}},
		Items: []*schedulev1.ItemStatus{
			{
				ItemId: "E01", Title: "Oil", Cycle: "E01.2026-05-01", ActByDate: &date.Date{Year: 2027, Month: 5, Day: 1}, State: schedulev1.DueState_DUE_STATE_COMING, Sentence: "Because.",
				Item: &schedulev1.Item{
					NoticeDays: 45, Why: "Why.", Caution: "Hot.", Fluid: &schedulev1.FluidNeed{Fluid: "SAE 20W-50", Quantity: &vehiclev1.Quantity{Value: "6.0", Unit: "l"}},
					Parts:    []*schedulev1.PartNeed{{Position: "engine-oil-filter", Quantity: 1}},
					Measured: []*schedulev1.MeasuredLimit{{Characteristic: "gap", Unit: "mm", Lower: "0.1"}},
				},
			},
			{ItemId: "X", Cycle: "X.begin", LastDoneDate: &date.Date{Year: 2025, Month: 1, Day: 1}, ActByDate: &date.Date{Year: 2026, Month: 1, Day: 1}, State: schedulev1.DueState_DUE_STATE_NOTHING_TO_DO},
		},
	})
	want := reminder.Vehicle{
		Serial: "AM0147P", Sample: true, Unit: vehicle.Kilometres, Estimated: 5, LastReading: vehicle.MustDate(2026, 5, 2),
		Items: []reminder.Item{
			{
				ID: "E01", Cycle: "E01.2026-05-01", Title: "Oil", ActBy: vehicle.MustDate(2027, 5, 1), Began: vehicle.MustDate(2026, 5, 1), NoticeDays: 45,
				Class: reminder.Routine, Sentence: "Because.", Why: "Why.", Caution: "Hot.",
				Fluid:    &reminder.Fluid{Name: "SAE 20W-50", Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 60, Scale: 1}, Unit: "l"}},
				Parts:    []reminder.PartNeed{{Position: "engine-oil-filter", Quantity: 1}},
				Measured: []reminder.Measure{{Characteristic: "gap", Unit: "mm", Lower: "0.1"}},
			},
			// Nothing to do: no day to act on. The round began when it was last done.
			{ID: "X", Cycle: "X.begin", Class: reminder.Routine, LastDone: vehicle.MustDate(2025, 1, 1), Began: vehicle.MustDate(2025, 1, 1)},
		},
	}
	if diff := cmp.Diff(want, v); diff != "" || err != nil {
		t.Errorf("%v\n%s", err, diff)
	}
}

func TestAPersonIsReadWithTheirHabits(t *testing.T) {
	r, err := Recipient(&ownerv1.Person{
		Name: "people/p0031", FullName: "Margaret\r\n  Hale", Email: "m@a.example", Language: "en-US", DistanceUnit: "km",
		TimeZone: "America/New_York", ContactFromHour: 8, ContactUntilHour: 20,
	}, time.LoadLocation)
	if err != nil || r.Name != "Margaret Hale" || r.Unit != vehicle.Kilometres || r.Zone.String() != "America/New_York" || r.Hours != (reminder.Hours{From: 8, Until: 20}) {
		t.Errorf("got %+v, %v", r, err)
	}
	if r, err := Recipient(&ownerv1.Person{TimeZone: "Atlantis/Capital"}, time.LoadLocation); err == nil || r.Zone != time.UTC {
		t.Errorf("an unknown zone: %+v, %v", r, err)
	}
	if r, err := Recipient(&ownerv1.Person{}, time.LoadLocation); err != nil || r.Zone != time.UTC || r.Unit != vehicle.Miles {
		t.Errorf("nothing said: %+v, %v", r, err)
	}
}
