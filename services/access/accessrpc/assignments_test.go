package accessrpc_test

import (
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// dealers makes two organisations.
func (h *house) dealers(t *testing.T) {
	t.Helper()
	ctx, admin := h.admin()
	for _, id := range []string{"ferncombe", "hollin"} {
		_, err := admin.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{
			Organisation: &accessv1.Organisation{Name: "organisations/" + id, Title: wording.UpperFirst(id) + " Garage"}})
		if err != nil {
			t.Fatal(err)
		}
	}
}

// assign lets an organisation see a vehicle, and fails the test otherwise.
func (h *house) assign(t *testing.T, who access.Caller, serial string, a *accessv1.Assignment) *accessv1.Assignment {
	t.Helper()
	ctx, client := h.as(who)
	a.Purpose = "24-month service"
	made, err := client.CreateAssignment(ctx, &accessv1.CreateAssignmentRequest{Parent: "vehicles/" + serial, Assignment: a})
	if err != nil {
		t.Fatal(err)
	}
	return made
}

// names lists assignments as somebody, without what stands before identifiers.
func (h *house) names(t *testing.T, who access.Caller, r *accessv1.ListAssignmentsRequest) (names string, all []*accessv1.Assignment) {
	t.Helper()
	ctx, client := h.as(who)
	got, err := client.ListAssignments(ctx, r)
	if err != nil {
		t.Fatalf("%s: %v", who, err)
	}
	var out []string
	for _, a := range got.GetAssignments() {
		out = append(out, a.GetName())
	}
	return strings.Join(out, " "), got.GetAssignments()
}

const (
	byConsent = accessv1.AssignmentGround_ASSIGNMENT_GROUND_CONSENT
	byBooking = accessv1.AssignmentGround_ASSIGNMENT_GROUND_BOOKING
	byWorks   = accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS
)

func TestWhatAnOwnerMakesIsTheirConsent(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	h.dealers(t)
	ctx, owner := h.as(p1)
	request := &accessv1.CreateAssignmentRequest{Parent: "vehicles/am 0101 g", RequestId: uuid(1), Assignment: &accessv1.Assignment{
		Organisation: "organisations/ferncombe", Purpose: "a noise",
		// What the service gives, or an owner cannot say, is not taken.
		Ground: byWorks, ConsentedBy: "people/p3", RecordedBy: "the works", Open: true, Name: "vehicles/AM0103C/assignments/x",
		End: &accessv1.AssignmentEnd{Reason: "none"},
	}}
	made, err := owner.CreateAssignment(ctx, request)
	if err != nil {
		t.Fatal(err)
	}
	if made.GetGround() != byConsent || made.GetConsentedBy() != "people/p1" || made.GetRecordedBy() != "owner" || !made.GetOpen() ||
		made.GetEnd() != nil || !strings.HasPrefix(made.GetName(), "vehicles/AM0101G/assignments/") {
		t.Errorf("got %v", made)
	}
	if got := vehiclewire.DateProto(vehicle.DateOf(today).AddDays(366)); !proto.Equal(made.GetLastDate(), got) {
		t.Errorf("until %v, want %v", made.GetLastDate(), got)
	}
	if again, err := owner.CreateAssignment(ctx, request); err != nil || !proto.Equal(again, made) {
		t.Errorf("again: got %v, %v", again, err)
	}
	// The dealer comes in at once, and is not told who let them.
	_, seen := h.names(t, ned, &accessv1.ListAssignmentsRequest{Parent: "vehicles/AM0101G"})
	if len(seen) != 1 || !seen[0].GetOpen() || seen[0].GetConsentedBy() != "" {
		t.Errorf("the dealer sees %v", seen)
	}
	for who, caller := range map[string]access.Caller{"somebody else's owner": p5, "who pays": p4, "the next owner": p2} {
		ctx, client := h.as(caller)
		_, err := client.CreateAssignment(ctx, &accessv1.CreateAssignmentRequest{Parent: "vehicles/AM0101G", Assignment: request.GetAssignment()})
		if err == nil {
			t.Errorf("%s lets a dealer see it", who)
		}
		wantReason(t, err, codes.NotFound, "BUILD_NOT_FOUND")
	}
}

func TestAFormerOwnersConsentIsOverAndUnseen(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	h.dealers(t)
	made := h.assign(t, p1, "AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe"})
	of := &accessv1.ListAssignmentsRequest{Parent: "vehicles/AM0101G"}
	if _, seen := h.names(t, p3, of); len(seen) != 1 || seen[0].GetConsentedBy() != "" || !seen[0].GetOpen() {
		t.Errorf("whoever keeps it beside the owner sees %v", seen)
	}
	if _, seen := h.names(t, p1, of); len(seen) != 1 || seen[0].GetConsentedBy() != "people/p1" {
		t.Errorf("the owner sees %v", seen)
	}

	h.Set(today.AddDate(0, 0, 9))
	if names, _ := h.names(t, ned, &accessv1.ListAssignmentsRequest{Parent: "vehicles/-"}); names != made.GetName() {
		t.Errorf("on the last day of the tie the dealer sees %q", names)
	}
	h.Set(today.AddDate(0, 0, 10)) // p1 has sold it
	for who, caller := range map[string]access.Caller{"the next owner": p2, "whoever keeps it": p3} {
		for _, parent := range []string{"vehicles/AM0101G", "vehicles/-"} {
			if names, _ := h.names(t, caller, &accessv1.ListAssignmentsRequest{Parent: parent}); names != "" {
				t.Errorf("%s sees %s", who, names)
			}
		}
		ctx, client := h.as(caller)
		_, err := client.GetAssignment(ctx, &accessv1.GetAssignmentRequest{Name: made.GetName()})
		_, missing := client.GetAssignment(ctx, &accessv1.GetAssignmentRequest{Name: "vehicles/AM0101G/assignments/none"})
		wantReason(t, err, codes.NotFound, "ASSIGNMENT_NOT_FOUND")
		if strings.ReplaceAll(err.Error(), strings.TrimPrefix(made.GetName(), "vehicles/AM0101G/assignments/"), "none") != missing.Error() {
			t.Errorf("%s: %v; of one that is missing: %v", who, err, missing)
		}
		_, err = client.EndAssignment(ctx, &accessv1.EndAssignmentRequest{Name: made.GetName()})
		wantReason(t, err, codes.NotFound, "ASSIGNMENT_NOT_FOUND")
	}
	if names, _ := h.names(t, ned, &accessv1.ListAssignmentsRequest{Parent: "vehicles/-"}); names != "" {
		t.Errorf("the dealer sees %q", names)
	}
	if _, seen := h.names(t, desk, of); len(seen) != 1 || seen[0].GetOpen() || seen[0].GetConsentedBy() != "people/p1" {
		t.Errorf("the works sees %v", seen)
	}
	ctx, dealer := h.as(ned)
	_, err := dealer.GetAssignment(ctx, &accessv1.GetAssignmentRequest{Name: made.GetName()})
	wantReason(t, err, codes.NotFound, "BUILD_NOT_FOUND")
}

func TestEachListsWhatIsTheirs(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	h.dealers(t)
	booked := h.assign(t, desk, "AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe", Ground: byBooking}).GetName()
	works := h.assign(t, desk, "AM0101G", &accessv1.Assignment{Organisation: "organisations/hollin", Ground: byWorks}).GetName()
	other := h.assign(t, desk, "AM0103C", &accessv1.Assignment{Organisation: "organisations/hollin", Ground: byWorks}).GetName()
	later := h.assign(t, desk, "AM0104A", &accessv1.Assignment{Organisation: "organisations/ferncombe", Ground: byBooking,
		StartDate: vehiclewire.DateProto(vehicle.DateOf(today).AddDays(1))}).GetName()
	both := booked + " " + works
	if works < booked {
		both = works + " " + booked
	}
	const all = "vehicles/-"
	for _, c := range []struct {
		name string
		who  access.Caller
		r    *accessv1.ListAssignmentsRequest
		want string
	}{
		{"the works everything", desk, &accessv1.ListAssignmentsRequest{Parent: all}, both + " " + other + " " + later},
		{"the works one organisation's", desk, &accessv1.ListAssignmentsRequest{Parent: all, Organisation: "organisations/hollin"}, works + " " + other},
		{"the works what is open", desk, &accessv1.ListAssignmentsRequest{Parent: all, Open: true}, both + " " + other},
		{"a service everything", gate, &accessv1.ListAssignmentsRequest{Parent: all}, both + " " + other + " " + later},
		{"an owner those of their vehicle", p1, &accessv1.ListAssignmentsRequest{Parent: all}, both},
		{"an owner those of their vehicle, by name", p5, &accessv1.ListAssignmentsRequest{Parent: "vehicles/AM0103C"}, other},
		{"who pays nothing", p4, &accessv1.ListAssignmentsRequest{Parent: all}, ""},
		{"a dealer what is open to them today", ned, &accessv1.ListAssignmentsRequest{Parent: all}, booked},
		{"a dealer their own of a vehicle", ada, &accessv1.ListAssignmentsRequest{Parent: "vehicles/AM0101G"}, works},
		{"a dealer nothing of another", ned, &accessv1.ListAssignmentsRequest{Parent: all, Organisation: "organisations/hollin"}, ""},
	} {
		if got, _ := h.names(t, c.who, c.r); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
	// In pages of one the works sees the same.
	var paged []string
	for token := ""; ; {
		ctx, client := h.as(desk)
		got, err := client.ListAssignments(ctx, &accessv1.ListAssignmentsRequest{Parent: all, PageSize: 1, PageToken: token})
		if err != nil || len(got.GetAssignments()) != 1 {
			t.Fatalf("got %v, %v", got, err)
		}
		paged = append(paged, got.GetAssignments()[0].GetName())
		if token = got.GetNextPageToken(); token == "" {
			break
		}
	}
	if got := strings.Join(paged, " "); got != both+" "+other+" "+later {
		t.Errorf("in pages: %s", got)
	}
	ctx, client := h.as(ned)
	_, err := client.ListAssignments(ctx, &accessv1.ListAssignmentsRequest{Parent: "vehicles/AM0103C"})
	wantReason(t, err, codes.NotFound, "BUILD_NOT_FOUND")
	_, err = client.GetAssignment(ctx, &accessv1.GetAssignmentRequest{Name: works})
	wantReason(t, err, codes.NotFound, "ASSIGNMENT_NOT_FOUND")
	_, err = client.ListAssignments(ctx, &accessv1.ListAssignmentsRequest{Parent: all, Organisation: "hollin"})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
}

func TestAnAssignmentIsEndedByWhoMay(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	h.dealers(t)
	make := func(who access.Caller, ground accessv1.AssignmentGround) *accessv1.Assignment {
		return h.assign(t, who, "AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe", Ground: ground})
	}
	for _, c := range []struct {
		name     string
		a        *accessv1.Assignment
		who      access.Caller
		complete bool
		code     codes.Code
		reason   string
	}{
		{"an owner their consent", make(p1, byConsent), p1, false, codes.OK, ""},
		{"who keeps it the owner's consent", make(p1, byConsent), p3, false, codes.OK, ""},
		{"an owner a booking", make(desk, byBooking), p1, false, codes.OK, ""},
		{"an owner not the works' own", make(desk, byWorks), p1, false, codes.PermissionDenied, "NOT_YOURS_TO_END"},
		{"another owner nothing", make(desk, byBooking), p5, false, codes.NotFound, "BUILD_NOT_FOUND"},
		{"another dealer nothing", make(desk, byBooking), ada, true, codes.NotFound, "BUILD_NOT_FOUND"},
		{"a dealer takes nothing back", make(desk, byBooking), ned, false, codes.InvalidArgument, "INVALID_FIELD"},
		{"a dealer completes the work", make(desk, byWorks), ned, true, codes.OK, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			ctx, client := h.as(c.who)
			request := &accessv1.EndAssignmentRequest{Name: c.a.GetName(), Complete: c.complete, Reason: "it is done", Etag: c.a.GetEtag(), RequestId: uuid(len(c.name))}
			got, err := client.EndAssignment(ctx, request)
			if c.code != codes.OK {
				wantReason(t, err, c.code, c.reason)
				return
			}
			if err != nil || got.GetOpen() || got.GetEnd().GetComplete() != c.complete || !got.GetEnd().GetEndTime().AsTime().Equal(today) || got.GetEtag() == c.a.GetEtag() {
				t.Fatalf("got %v, %v", got, err)
			}
			deskCtx, works := h.as(desk)
			kept, err := works.GetAssignment(deskCtx, &accessv1.GetAssignmentRequest{Name: c.a.GetName()})
			if err != nil || kept.GetEnd().GetRecordedBy() != c.who.Bearer {
				t.Errorf("got %v, %v", kept, err)
			}
			_, err = works.EndAssignment(deskCtx, &accessv1.EndAssignmentRequest{Name: c.a.GetName(), Complete: true})
			wantReason(t, err, codes.FailedPrecondition, "ASSIGNMENT_ENDED")
			_, err = works.EndAssignment(deskCtx, &accessv1.EndAssignmentRequest{Name: c.a.GetName(), Complete: true, Etag: c.a.GetEtag()})
			wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
		})
	}
}

func TestEndingAgainIsAnsweredAsBefore(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	h.dealers(t)
	a := h.assign(t, desk, "AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe", Ground: byBooking})
	ctx, works := h.as(desk)
	request := &accessv1.EndAssignmentRequest{Name: a.GetName(), Reason: "sent elsewhere", RequestId: uuid(7)}
	first, err := works.EndAssignment(ctx, request)
	if err != nil {
		t.Fatal(err)
	}
	h.Set(today.Add(1000))
	if again, err := works.EndAssignment(ctx, request); err != nil || !proto.Equal(first, again) {
		t.Errorf("got %v, %v; want %v", again, err, first)
	}
	over := h.assign(t, desk, "AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe", Ground: byBooking})
	h.Set(today.AddDate(0, 0, 31))
	_, err = works.EndAssignment(ctx, &accessv1.EndAssignmentRequest{Name: over.GetName(), Complete: true})
	wantReason(t, err, codes.FailedPrecondition, "ASSIGNMENT_OVER")
}

func TestAnAssignmentThatCannotBeIsRefused(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	h.dealers(t)
	adminCtx, admin := h.admin()
	o, err := admin.GetOrganisation(adminCtx, &accessv1.GetOrganisationRequest{Name: "organisations/hollin"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := admin.UpdateOrganisation(adminCtx, &accessv1.UpdateOrganisationRequest{Organisation: o, Closed: true}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, parent string
		a            *accessv1.Assignment
		code         codes.Code
		reason       string
	}{
		{"of a vehicle that is not there", "vehicles/AM01991", &accessv1.Assignment{Organisation: "organisations/ferncombe", Ground: byWorks, Purpose: "x"}, codes.NotFound, "BUILD_NOT_FOUND"},
		{"of no vehicle", "vehicles/AM0101X", &accessv1.Assignment{}, codes.InvalidArgument, "SERIAL_CHECK"},
		{"of an organisation that is closed", "vehicles/AM0101G", &accessv1.Assignment{Organisation: "organisations/hollin", Ground: byWorks, Purpose: "x"}, codes.InvalidArgument, "INVALID_FIELD"},
		{"of one that is not there", "vehicles/AM0101G", &accessv1.Assignment{Organisation: "organisations/nobody", Ground: byWorks, Purpose: "x"}, codes.InvalidArgument, "INVALID_FIELD"},
		{"by consent of the next owner", "vehicles/AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe", Ground: byConsent, ConsentedBy: "people/p2", Purpose: "x"}, codes.InvalidArgument, "INVALID_FIELD"},
		{"by consent of who pays", "vehicles/AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe", Ground: byConsent, ConsentedBy: "people/p4", Purpose: "x"}, codes.InvalidArgument, "INVALID_FIELD"},
		{"on no ground", "vehicles/AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe", Purpose: "x"}, codes.InvalidArgument, "INVALID_FIELD"},
	} {
		ctx, works := h.as(desk)
		got, err := works.CreateAssignment(ctx, &accessv1.CreateAssignmentRequest{Parent: c.parent, Assignment: c.a})
		if err == nil {
			t.Errorf("%s: got %v", c.name, got)
		}
		wantReason(t, err, c.code, c.reason)
	}
	if names, _ := h.names(t, desk, &accessv1.ListAssignmentsRequest{Parent: "vehicles/-"}); names != "" {
		t.Errorf("there are %s", names)
	}
}
