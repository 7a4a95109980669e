package audit

import (
	"strings"
	"testing"

	"halfshaft/services/access"
)

func TestEveryMethodThatChangesSomethingHasItsSentence(t *testing.T) {
	table := access.Table()
	changing := 0
	for method := range table {
		if !access.Changes(method) {
			continue
		}
		changing++
		if done()[method] == "" {
			t.Errorf("%s has no sentence: sentences.go is to say what it did", method)
		}
	}
	for method := range done() {
		if _, ok := table[method]; !ok {
			t.Errorf("%s has a sentence and is in no table", method)
		}
		if !access.Changes(method) {
			t.Errorf("%s has a sentence and only reads", method)
		}
	}
	if changing < 50 {
		t.Errorf("%d methods change something: the test sees too few", changing)
	}
}

func TestALineIsToldInASentence(t *testing.T) {
	for name, c := range map[string]struct {
		line Line
		want string
	}{
		"an amendment with its reason": {amended(), "Amended by front desk on 3 March 2026, because the owner read <S2> & not S1."},
		"a reason that ends with a stop": {Line{Time: march, Actor: "bench 2", Method: "/halfshaft.build.v1.BuildService/MoveComponent", Outcome: Changed, Because: "it was worn. "},
			"Component moved by bench 2 on 3 March 2026, because it was worn."},
		"an owner through the pages": {Line{Time: march, Actor: "owner", Role: access.Owner, Party: "people/p0031", Through: "owner pages",
			Method: "/halfshaft.schedule.v1.ScheduleService/RecordReading", Outcome: Changed},
			"Reading recorded by owner people/p0031 through owner pages on 3 March 2026."},
		"somebody of this process": {Line{Time: march, Actor: "local operator", Role: access.Administrator, Through: "halfshaft",
			Method: "/halfshaft.access.v1.AccessService/CreateKey", Outcome: Changed}, "Key made by local operator on 3 March 2026."},
		"a dealer": {Line{Time: march, Actor: "J. Marker", Role: access.Dealer, Party: "organisations/o1",
			Method: "/halfshaft.schedule.v1.ScheduleService/RecordService", Outcome: Changed},
			"Service recorded by J. Marker of organisations/o1 on 3 March 2026."},
		"the closing of an account": {Line{Time: march, Actor: "ida", Method: "/halfshaft.access.v1.AccessService/UpdateAccount", Outcome: Changed, Fields: []string{"closed"}},
			"Account changed by ida on 3 March 2026 (closed)."},
		"a method that nobody named": {Line{Time: march, Actor: "x", Method: "/other.v1.Thing/DoSomethingNew", Outcome: Changed},
			"Called do something new by x on 3 March 2026."},
		"no method at all": {Line{Time: march, Actor: "x", Outcome: Changed}, "Called something by x on 3 March 2026."},
		"somebody unknown refused, often": {Line{Time: march, Method: "/halfshaft.build.v1.BuildService/GetBuild", Outcome: Refused, ErrorReason: "KEY_UNKNOWN", Count: 17},
			"Call to get build refused to somebody unknown on 3 March 2026 (KEY_UNKNOWN), 17 times."},
		"a failure": {Line{Time: march, Actor: "front desk", Method: "/halfshaft.build.v1.BuildService/AmendBuild", Outcome: Failed, ErrorReason: "OUTCOME_UNKNOWN"},
			"Call to amend build by front desk failed on 3 March 2026, and may have changed something (OUTCOME_UNKNOWN)."},
		"a reading of personal data": {Line{Time: march, Actor: "front desk", Method: "/halfshaft.owner.v1.OwnerService/GetPerson", Outcome: Read},
			"Read by front desk on 3 March 2026 (get person)."},
		"a repetition": {Line{Time: march, Actor: "front desk", Method: "/halfshaft.build.v1.BuildService/AmendBuild", Outcome: Unchanged},
			"Call to amend build by front desk on 3 March 2026, which changed nothing."},
		"a role without a name": {Line{Time: march, Role: access.Service, Method: "/halfshaft.reminder.v1.ReminderService/RunPass", Outcome: Changed},
			"Reminder pass run by service on 3 March 2026."},
	} {
		t.Run(name, func(t *testing.T) {
			if got := Sentence(c.line); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func TestTheHistoryOfAVehicleIsThatOfItsBuildRecordToo(t *testing.T) {
	l := Line{Objects: []string{"builds/AM0147P", "vehicles/AM0147P/readings/r1", "people/p0031"}}
	if got := strings.Join(l.Roots(), " "); got != "vehicles/AM0147P people/p0031" {
		t.Errorf("got the roots %s", got)
	}
	for object, want := range map[string]bool{
		"vehicles/AM0147P": true, "builds/AM0147P": true, "vehicles/AM0147P/readings": true, "vehicles/AM0147P/readings/r1": true,
		"people/p0031": true, "people/p003": false, "vehicles/AM0147": false, "vehicles/AM0148R": false, "builds/AM0147P/readings": false, "builds": true,
	} {
		if got := l.IsAbout(object); got != want {
			t.Errorf("about %s: %v, want %v", object, got, want)
		}
	}
	build := Line{Objects: []string{"builds/AM0147P"}}
	if !build.IsAbout("vehicles/AM0147P") {
		t.Error("a change of the build record is no history of the vehicle")
	}
}
