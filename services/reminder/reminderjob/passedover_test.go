package reminderjob

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// spoilt is a fleet of four of which three have a record that cannot be read:
// a person, a schedule, a tie.
func spoilt(t *testing.T) *office {
	o := newOffice(t)
	for n, person := range []string{"p0", "p1", "p2", "p3"} {
		o.town.vehicle(serial(n), item("E01", today))
		o.town.owner(serial(n), person)
	}
	o.town.cannotGet["people/p0"] = true
	o.town.due[string(serial(1))].Items[0].ActByDate.Month = 13
	o.town.ties[string(serial(2))][0].StartDate = &date.Date{Year: 2026, Month: 13, Day: 1}
	return o
}

func TestOneBadRecordStopsNoAnswerAboutTheOthers(t *testing.T) {
	o := spoilt(t)
	bad := []string{string(serial(0)) + "  UNREADABLE", string(serial(1)) + "  UNREADABLE", string(serial(2)) + "  UNREADABLE"}
	slices.Sort(bad)
	said := func(lines []reminder.Pending) []string {
		var out []string
		for _, p := range lines {
			out = append(out, strings.Join([]string{string(p.Serial), p.Person, p.Reason}, " "))
			if p.Sentence == "" {
				t.Errorf("%s: no sentence", p.Serial)
			}
		}
		return out
	}
	for name, run := range map[string]func() (*Report, error){
		"a dry run now":         func() (*Report, error) { return o.DryRun(t.Context()) },
		"of today":              func() (*Report, error) { return o.DryRunOn(t.Context(), today) },
		"of a day to come":      func() (*Report, error) { return o.DryRunOn(t.Context(), today.AddDays(1)) },
		"of the year's letters": func() (*Report, error) { return o.DryRunOn(t.Context(), vehicle.MustDate(2026, 12, 27)) },
	} {
		r, err := run()
		if err != nil || counts(r) != "claimed 1" || r.Notices[0].Person != "p3" {
			t.Errorf("%s: %v, %v", name, r, err)
			continue
		}
		if diff := cmp.Diff(bad, said(r.HeldLines())); diff != "" {
			t.Errorf("%s: what is held back:\n%s", name, diff)
		}
		if of := r.Differences(nil, "yesterday"); !strings.Contains(of[0], "of vehicles that cannot be read 3") {
			t.Errorf("%s: the differences are %q", name, of)
		}
	}
	all := slices.Sorted(slices.Values(append(slices.Clone(bad), string(serial(3))+" p3 TOLD")))
	lines, err := o.Pending(t.Context(), "", vehicle.Date{})
	if diff := cmp.Diff(all, said(lines)); diff != "" || err != nil {
		t.Errorf("what comes up: %v\n%s", err, diff)
	}
	if _, err := o.Pending(t.Context(), serial(0), vehicle.Date{}); err == nil {
		t.Error("asked about it alone, nothing is said to be wrong")
	}
	if log := o.log.String(); strings.Contains(log, "@harbour") || !strings.Contains(log, "the record is damaged") {
		t.Errorf("the log: %s", log)
	}
}

// TestAVehicleThatCannotBeReadIsNamedInTheYearsSeason: nothing else is due of
// three vehicles; of one the person cannot be read, of another the schedule.
func TestAVehicleThatCannotBeReadIsNamedInTheYearsSeason(t *testing.T) {
	o := newOffice(t)
	for n, person := range []string{"p0", "p1", "p2"} {
		agree(o.town.owner(serial(n), person))
		o.town.vehicle(serial(n), item("E01", vehicle.MustDate(2028, 11, 1)))
		o.town.now[string(serial(n))] = o.town.due[string(serial(n))]
	}
	o.town.due = map[string]*schedulev1.Schedule{}
	o.town.cannotGet["people/p0"] = true
	o.town.now[string(serial(1))].Items[0].ActByDate.Month = 13
	o.now = time.Date(2026, 12, 28, 12, 0, 0, 0, time.UTC)
	r, err := o.DryRun(t.Context())
	if err != nil || counts(r) != "claimed 1" || r.Notices[0].Person != "p2" {
		t.Fatalf("got %+v, %v", r, err)
	}
	var got []string
	for _, p := range r.HeldLines() {
		got = append(got, string(p.Serial)+" "+p.Reason)
	}
	if diff := cmp.Diff([]string{string(serial(0)) + " UNREADABLE", string(serial(1)) + " UNREADABLE"}, got); diff != "" {
		t.Error(diff)
	}
	before := strings.Count(o.log.String(), "level=ERROR")
	o.want(t, "the pass", "claimed 1 sent 1")
	if n := strings.Count(o.log.String(), "level=ERROR") - before; n != 2 {
		t.Errorf("the pass says %d times that it passed one over\n%s", n, o.log)
	}
}

// away is an owner service that goes away after it said who is tied to what.
type away struct{ ownerv1.OwnerServiceClient }

func (away) GetPerson(context.Context, *ownerv1.GetPersonRequest, ...grpc.CallOption) (*ownerv1.Person, error) {
	return nil, status.Error(codes.Unavailable, "not now")
}

func TestAServiceThatCannotBeReachedIsNoBadRecord(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	o.Owners = away{o.Owners}
	for name, ask := range map[string]func() error{
		"a dry run":     func() error { _, err := o.DryRun(t.Context()); return err },
		"what comes up": func() error { _, err := o.Pending(t.Context(), "", vehicle.Date{}); return err },
	} {
		if err := ask(); !outOfReach(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if !outOfReach(fault.New(fault.Unavailable, "STORE_OUT_OF_REACH", "the store gave no answer")) || outOfReach(fault.New(fault.Internal, "DAMAGED", "damaged")) {
		t.Error("what is out of reach is not known from what is damaged")
	}
}

// TestADryRunKeepsTheTurnsOfThePass: somebody has more vehicles than they may
// have messages, and the next is the one of which they heard least lately.
func TestADryRunKeepsTheTurnsOfThePass(t *testing.T) {
	o := newOffice(t)
	for n := range 3 {
		o.town.vehicle(serial(n), item("E01", today))
		o.town.owner(serial(n), "p1")
	}
	o.town.people["people/p1"].MostMessages = 1
	for range 3 {
		dry, err := o.DryRun(t.Context())
		if err != nil || len(dry.Notices) != 1 {
			t.Fatalf("got %v, %v", dry, err)
		}
		if r := o.want(t, "the pass", "claimed 1 sent 1"); r.Notices[0].Serial != dry.Notices[0].Serial {
			t.Errorf("the dry run said %s, the pass told %s", dry.Notices[0].Serial, r.Notices[0].Serial)
		}
		o.now = o.now.AddDate(0, 0, 31)
	}
}
