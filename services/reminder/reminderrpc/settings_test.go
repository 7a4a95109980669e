package reminderrpc

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
)

func TestAnOptOutIsOfOnePurpose(t *testing.T) {
	d := newDesk(t)
	for _, tie := range [][2]string{{serial1, "p1"}, {serial1, "p2"}, {serial2, "p1"}} {
		d.town.owner(tie[0], tie[1])
	}
	create := func(vehicle, person string, purpose ownerv1.Purpose) (*reminderv1.OptOut, error) {
		return d.CreateOptOut(d.staff(t), &reminderv1.CreateOptOutRequest{
			OptOut: &reminderv1.OptOut{Vehicle: "vehicles/" + vehicle, Person: "people/" + person, Way: "staff", Purpose: purpose}, RequestId: uuid.NewString(),
		})
	}
	for _, c := range []struct {
		vehicle, person string
		purpose         ownerv1.Purpose
		name            string
	}{
		{serial1, "p2", 0, "optOuts/AM0147P.p2"},
		{serial1, "p1", ownerv1.Purpose_PURPOSE_YEAR_LETTER, "optOuts/AM0147P.p1.year-letter"},
		{serial1, "p1", ownerv1.Purpose_PURPOSE_SERVICE, "optOuts/AM0147P.p1"},
		{serial2, "p1", ownerv1.Purpose_PURPOSE_YEAR_LETTER, "optOuts/AM0093L.p1.year-letter"},
	} {
		if o, err := create(c.vehicle, c.person, c.purpose); err != nil || o.GetName() != c.name || !o.GetCreateTime().AsTime().Equal(now) {
			t.Errorf("%s: %v, %v", c.name, o, err)
		}
	}
	if _, err := create(serial1, "p1", ownerv1.Purpose_PURPOSE_SAFETY); !fault.Is(err, fault.Invalid) {
		t.Errorf("opting out of safety campaigns: %v", err)
	}
	if _, err := create(serial1, "p1", 17); !fault.Is(err, fault.Invalid) {
		t.Errorf("a purpose that is none: %v", err)
	}
	if diff := cmp.Diff(map[string]bool{"p1": true, "p2": true}, d.Store.OptedOutOf(serial1, reminder.Service)); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(map[string]bool{"p1": true}, d.Store.OptedOutOf(serial1, reminder.YearLetter)); diff != "" {
		t.Error(diff)
	}
	var names []string
	r := &reminderv1.ListOptOutsRequest{Parent: "vehicles/-", PageSize: 1}
	for {
		page, err := d.ListOptOuts(d.staff(t), r)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range page.GetOptOuts() {
			names = append(names, o.GetName())
		}
		if r.PageToken = page.GetNextPageToken(); r.PageToken == "" {
			break
		}
	}
	want := []string{"optOuts/AM0093L.p1.year-letter", "optOuts/AM0147P.p1", "optOuts/AM0147P.p1.year-letter", "optOuts/AM0147P.p2"}
	if diff := cmp.Diff(want, names); diff != "" {
		t.Error(diff)
	}
	if _, err := d.EndOptOut(d.staff(t), &reminderv1.EndOptOutRequest{Name: want[2], RequestId: uuid.NewString()}); err != nil {
		t.Fatal(err)
	}
	if !d.Store.OptedOutOf(serial1, reminder.Service)["p1"] || d.Store.OptedOutOf(serial1, reminder.YearLetter)["p1"] {
		t.Error("ending one ends the other")
	}
}

func TestACadenceIsTheUsualOneUntilItIsChanged(t *testing.T) {
	d := newDesk(t)
	list, err := d.ListCadences(d.staff(t), &reminderv1.ListCadencesRequest{PageSize: 3})
	if err != nil || len(list.GetCadences()) != 3 || list.GetNextPageToken() == "" {
		t.Fatalf("got %v, %v", list, err)
	}
	rest, err := d.ListCadences(d.staff(t), &reminderv1.ListCadencesRequest{PageSize: 3, PageToken: list.GetNextPageToken()})
	if err != nil || len(rest.GetCadences()) != 1 || rest.GetCadences()[0].GetName() != "cadences/settling" || rest.GetNextPageToken() != "" {
		t.Fatalf("got %v, %v", rest, err)
	}
	usual, err := d.GetCadence(d.staff(t), &reminderv1.GetCadenceRequest{Name: "cadences/safety"})
	if err != nil || usual.GetEtag() != "" || usual.GetOverdueDays() != int32(reminder.Usual(reminder.Vital).Overdue) {
		t.Fatalf("got %v, %v", usual, err)
	}
	wanted := proto.CloneOf(usual)
	wanted.OverdueDays = 10
	update := &reminderv1.UpdateCadenceRequest{Cadence: wanted, RequestId: uuid.NewString()}
	changed, err := d.UpdateCadence(d.staff(t), update)
	if err != nil || changed.GetEtag() == "" || d.Store.Cadences().Of(reminder.Vital).Overdue != 10 {
		t.Fatalf("got %v, %v", changed, err)
	}
	if again, err := d.UpdateCadence(d.staff(t), update); err != nil || cmp.Diff(changed, again, protocmp.Transform()) != "" {
		t.Errorf("asked again: %v, %v", again, err)
	}
	for _, c := range []struct {
		name string
		etag string
		want fault.Kind
	}{{"no etag", "", fault.Invalid}, {"an old one", kv.Etag(1), fault.Aborted}, {"one that is none", "!", fault.Invalid}} {
		wanted.Etag = c.etag
		if _, err := d.UpdateCadence(d.staff(t), &reminderv1.UpdateCadenceRequest{Cadence: wanted}); !fault.Is(err, c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	wanted.Etag, wanted.OverdueDays = changed.GetEtag(), 0
	if _, err := d.UpdateCadence(d.staff(t), &reminderv1.UpdateCadenceRequest{Cadence: wanted}); !fault.Is(err, fault.Invalid) {
		t.Errorf("a number out of range: %v", err)
	}
	fresh := proto.CloneOf(usual)
	fresh.Name, fresh.Etag = "cadences/routine", kv.Etag(1)
	if _, err := d.UpdateCadence(d.staff(t), &reminderv1.UpdateCadenceRequest{Cadence: fresh}); !fault.Is(err, fault.Aborted) {
		t.Errorf("the first change with an etag: %v", err)
	}
	if _, err := d.GetCadence(d.staff(t), &reminderv1.GetCadenceRequest{Name: "cadences/weekly"}); !fault.Is(err, fault.Invalid) {
		t.Errorf("a class that is none: %v", err)
	}
}

func TestALinkIsGoodForThePersonTheVehicleAndItsTime(t *testing.T) {
	d := newDesk(t)
	p := d.town.owner(serial1, "p1")
	p.Language, p.FormatLocale, p.DistanceUnit = "de", "de-CH", "km"
	d.town.owner(serial2, "p2")
	d.town.owner(serial2, "p1")
	d.town.ends(serial2, "p1", today) // the last day no longer counts
	own, others := d.notice(t, serial1, "p1", reminder.Mail, oil), d.notice(t, serial1, "p2", reminder.Mail, oil)
	elsewhere := d.notice(t, serial2, "p1", reminder.Mail, oil)
	check := func(vehicle, person string, epoch int32, notice string) (*reminderv1.CheckLinkResponse, error) {
		if notice != "" {
			notice = "notices/" + notice
		}
		return d.CheckLink(t.Context(), &reminderv1.CheckLinkRequest{Vehicle: vehicle, Person: person, Epoch: epoch, Notice: notice})
	}
	good, err := check("vehicles/"+serial1, "people/p1", 0, own.ID)
	want := &ownerv1.Person{Name: "people/p1", Language: "de", FormatLocale: "de-CH", DistanceUnit: "km", TimeZone: "Europe/London"}
	if err != nil || good.GetNotice().GetName() != "notices/"+own.ID {
		t.Fatalf("got %v, %v", good, err)
	}
	if diff := cmp.Diff(want, good.GetPerson(), protocmp.Transform()); diff != "" {
		t.Errorf("more or less of the person than their habits:\n%s", diff)
	}
	var refusal string
	for name, call := range map[string]func() error{
		"the vehicle is not theirs today": func() error { _, err := check("vehicles/"+serial2, "people/p1", 0, ""); return err },
		"there is no such person":         func() error { _, err := check("vehicles/"+serial1, "people/p9", 0, ""); return err },
		"there is no such vehicle":        func() error { _, err := check("vehicles/AM0999X", "people/p1", 0, ""); return err },
		"a number of the future":          func() error { _, err := check("vehicles/"+serial1, "people/p1", 1, ""); return err },
		"a notice to somebody else":       func() error { _, err := check("vehicles/"+serial1, "people/p1", 0, others.ID); return err },
		"a notice about another vehicle":  func() error { _, err := check("vehicles/"+serial1, "people/p1", 0, elsewhere.ID); return err },
		"a notice that is not there":      func() error { _, err := check("vehicles/"+serial1, "people/p1", 0, "AM0147P.x"); return err },
		"a name that is none":             func() error { _, err := check("nonsense", "people/p1", 0, ""); return err },
		"a person's name that is none":    func() error { _, err := check("vehicles/"+serial1, "p1", 0, ""); return err },
	} {
		err := call()
		if !fault.Is(err, fault.NotFound) {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if refusal == "" {
			refusal = err.Error()
		}
		if err.Error() != refusal {
			t.Errorf("%s: %q, elsewhere %q", name, err, refusal)
		}
	}
	if good.GetAddressReplaced() {
		t.Error("an address stands that is said to be replaced")
	}
	withdraw := &reminderv1.WithdrawLinksRequest{Person: "people/p1", RequestId: uuid.NewString()}
	for range 2 {
		if r, err := d.WithdrawLinks(d.as(t, "p1"), withdraw); err != nil || r.GetEpoch() != 1 {
			t.Fatalf("got %v, %v", r, err)
		}
	}
	if _, err := check("vehicles/"+serial1, "people/p1", 0, ""); !fault.Is(err, fault.NotFound) {
		t.Errorf("a link of before: %v", err)
	}
	if _, err := check("vehicles/"+serial1, "people/p1", 1, ""); err != nil || d.Store.Epoch("p1") != 1 {
		t.Errorf("a link of after: %v", err)
	}
	if r, err := d.WithdrawLinks(d.as(t, "p1"), &reminderv1.WithdrawLinksRequest{Person: "people/p1"}); err != nil || r.GetEpoch() != 2 {
		t.Errorf("withdrawn again: %v, %v", r, err)
	}
}

func TestNoticesAreListedByPerson(t *testing.T) {
	d := newDesk(t)
	mine := d.notice(t, serial1, "p1", reminder.Mail, oil)
	d.notice(t, serial1, "p2", reminder.Mail, oil)
	r, err := d.ListNotices(d.staff(t), &reminderv1.ListNoticesRequest{Parent: "vehicles/-", Person: "people/p1"})
	if err != nil || len(r.GetNotices()) != 1 || r.GetNotices()[0].GetName() != "notices/"+mine.ID {
		t.Errorf("got %v, %v", r, err)
	}
	if _, err := d.ListNotices(d.staff(t), &reminderv1.ListNoticesRequest{Parent: "vehicles/-", Person: "p1"}); !fault.Is(err, fault.Invalid) {
		t.Errorf("a name that is none: %v", err)
	}
}

func TestANoticeThatIsToldAnotherWayIsNotTakenUp(t *testing.T) {
	d := newDesk(t)
	k := d.notice(t, serial1, "p1", reminder.Mail, oil)
	n := k.Notice
	n.State = reminder.Rerouted
	kept, err := d.Store.Put(t.Context(), reminderRequest(), n, k.Revision)
	if err != nil {
		t.Fatal(err)
	}
	_, err = d.RetryNotice(d.staff(t), &reminderv1.RetryNoticeRequest{Name: "notices/" + n.ID, Etag: kv.Etag(kept.Revision)})
	if f, ok := err.(*fault.Error); !ok || f.Reason != "NOTICE_REROUTED" {
		t.Errorf("got %v", err)
	}
}
