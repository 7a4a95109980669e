package ownerrpc_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/etcdtest"
)

func withAll() []clientv3.OpOption { return []clientv3.OpOption{clientv3.WithFromKey()} }

// lasting gives who is what to a vehicle without an end.
func (h *house) lasting(t *testing.T, vehicle string) string {
	t.Helper()
	ctx, desk := h.desk()
	ties, err := desk.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: vehicle})
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, tie := range ties.GetTies() {
		if tie.GetEndDate() == nil {
			out = append(out, strings.TrimPrefix(tie.GetPerson(), "people/")+" "+strings.ToLower(strings.TrimPrefix(tie.GetRole().String(), "ROLE_")))
		}
	}
	slices.Sort(out)
	return strings.Join(out, ", ")
}

func TestTheWorksRecordAChangeOfOwnerOnEvidence(t *testing.T) {
	h, vehicle, offer := offered(t)
	v := vehicle[len("vehicles/"):]
	for id, role := range map[string]ownerv1.Role{"p2": ownerv1.Role_ROLE_CARETAKER, "p3": ownerv1.Role_ROLE_PAYER} {
		h.create(t, id)
		h.tie(t, v, id, role, day(2021, 6, 1))
	}
	h.create(t, "p4")
	ctx, desk := h.desk()
	request := &ownerv1.RecordTransferRequest{
		Parent: vehicle, NewOwner: &ownerv1.Person{Name: "people/p4"}, TransferDate: day(2026, 11, 1), Evidence: "bill of sale, file 2026/114",
		Staying: []string{"people/p2"}, RequestId: uuid(5),
	}
	done, err := desk.RecordTransfer(ctx, request)
	if err != nil || done.GetState() != ownerv1.TransferState_TRANSFER_STATE_DONE || done.GetNewOwner() != "people/p4" || done.GetRecordedBy() != "front desk" ||
		done.GetOfferedBy() != "" || done.GetEvidence() == "" || done.GetExpireTime() != nil {
		t.Fatalf("got %v, %v", done, err)
	}
	if got := h.lasting(t, vehicle); got != "p2 caretaker, p4 owner" {
		t.Errorf("tied are %s", got)
	}
	if again, err := desk.RecordTransfer(ctx, request); err != nil || !proto.Equal(again, done) {
		t.Errorf("again: got %v, %v", again, err)
	}
	wantReason(t, h.accept(vehicle, offer.GetCode()), codes.FailedPrecondition, "TRANSFER_CODE_WRONG") // the open offer was called off
	ownCtx, own := h.owner("people/p1")
	_, err = own.GetStanding(ownCtx, &ownerv1.GetStandingRequest{Name: vehicle + "/standing"})
	wantReason(t, err, codes.NotFound, "BUILD_NOT_FOUND")

	// To somebody new, and then to nobody knows whom.
	done, err = desk.RecordTransfer(ctx, &ownerv1.RecordTransferRequest{Parent: vehicle, NewOwner: buyer(), Evidence: "letter of 20 November"})
	if err != nil || !proto.Equal(done.GetTransferDate(), day(2026, 11, 25)) {
		t.Fatal(done, err)
	}
	if p, err := desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: done.GetNewOwner()}); err != nil || p.GetFullName() != "Bede Quayle" {
		t.Errorf("got %v, %v", p, err)
	}
	nobody := &ownerv1.RecordTransferRequest{Parent: vehicle, Evidence: "sold at an auction", RequestId: uuid(6)}
	done, err = desk.RecordTransfer(ctx, nobody)
	if err != nil || done.GetNewOwner() != "" || h.lasting(t, vehicle) != "" {
		t.Errorf("got %v, %v; tied are %s", done, err, h.lasting(t, vehicle))
	}
	if again, err := desk.RecordTransfer(ctx, nobody); err != nil || !proto.Equal(again, done) {
		t.Errorf("again: got %v, %v", again, err)
	}
	n, err := desk.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: vehicle + "/standing"})
	if err != nil || n.GetState() != ownerv1.StandingState_STANDING_STATE_OWNER_UNKNOWN || !proto.Equal(n.GetSinceDate(), day(2026, 11, 25)) {
		t.Errorf("got %v, %v", n, err)
	}
	list, err := desk.ListTransfers(ctx, &ownerv1.ListTransfersRequest{Parent: "vehicles/-", PageSize: 2})
	if err != nil || len(list.GetTransfers()) != 2 || list.GetNextPageToken() == "" {
		t.Fatal(list, err)
	}
	rest, err := desk.ListTransfers(ctx, &ownerv1.ListTransfersRequest{Parent: "vehicles/-", PageSize: 2, PageToken: list.GetNextPageToken()})
	if err != nil || len(rest.GetTransfers()) != 2 || rest.GetNextPageToken() != "" {
		t.Error(rest, err)
	}
}

func TestWhatIsWrongWithARecordedTransferIsSaid(t *testing.T) {
	h, vehicle, _ := offered(t)
	ctx, desk := h.desk()
	for field, r := range map[string]*ownerv1.RecordTransferRequest{
		"evidence":             {Parent: vehicle},
		"transfer_date":        {Parent: vehicle, Evidence: "x", TransferDate: day(2026, 11, 26)},
		"staying[0]":           {Parent: vehicle, Evidence: "x", Staying: []string{"people/p1"}}, // who owned it does not stay
		"new_owner.name":       {Parent: vehicle, Evidence: "x", NewOwner: &ownerv1.Person{Name: "p1"}},
		"new_owner.full_name":  {Parent: vehicle, Evidence: "x", NewOwner: &ownerv1.Person{TimeZone: "UTC"}},
		"heard AM0147X, but X": {Parent: "vehicles/AM0147X", Evidence: "x"},
	} {
		_, err := desk.RecordTransfer(ctx, r)
		if err == nil || !strings.Contains(err.Error(), field) {
			t.Errorf("%s: got %v", field, err)
		}
	}
	_, err := desk.RecordTransfer(ctx, &ownerv1.RecordTransferRequest{Parent: vehicle, Evidence: "x", NewOwner: &ownerv1.Person{Name: "people/p7"}})
	wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
	taken := person("p1")
	_, err = desk.RecordTransfer(ctx, &ownerv1.RecordTransferRequest{Parent: vehicle, Evidence: "x", NewOwner: taken})
	wantReason(t, err, codes.AlreadyExists, "PERSON_EXISTS")
	if got := h.lasting(t, vehicle); got != "p1 owner" {
		t.Errorf("tied are %s", got)
	}
}

func TestAStandingIsRecordedAndTold(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	v := serial(t, "AM0147")
	name := "vehicles/" + v + "/standing"
	ctx, desk := h.desk()
	n, err := desk.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: name})
	if err != nil || n.GetState() != ownerv1.StandingState_STANDING_STATE_IN_USE || n.GetEtag() != "" || n.GetName() != name {
		t.Errorf("got %v, %v", n, err)
	}
	n.State, n.Note = ownerv1.StandingState_STANDING_STATE_SCRAPPED, "certificate of destruction seen"
	update := &ownerv1.UpdateStandingRequest{Standing: n, RequestId: uuid(1)}
	first, err := desk.UpdateStanding(ctx, update)
	if err != nil || first.GetRecordedBy() != "front desk" || !proto.Equal(first.GetSinceDate(), day(2026, 11, 25)) {
		t.Fatal(first, err)
	}
	if again, err := desk.UpdateStanding(ctx, update); err != nil || !proto.Equal(again, first) {
		t.Errorf("again: got %v, %v", again, err)
	}
	_, err = desk.UpdateStanding(ctx, &ownerv1.UpdateStandingRequest{Standing: n})
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")

	watchCtx, cancel := context.WithCancel(context.Background())
	defer cancel()
	stream, err := h.service().WatchTies(watchCtx, &ownerv1.WatchTiesRequest{})
	if err != nil {
		t.Fatal(err)
	}
	told := func() *ownerv1.Standing {
		t.Helper()
		for {
			r, err := stream.Recv()
			if err != nil {
				t.Fatal(err)
			}
			if len(r.GetStandings()) > 0 {
				return r.GetStandings()[0]
			}
		}
	}
	if got := told(); !proto.Equal(got, first) {
		t.Errorf("told %v, want %v", got, first)
	}
	first.State = ownerv1.StandingState_STANDING_STATE_EXPORTED
	second, err := desk.UpdateStanding(ctx, &ownerv1.UpdateStandingRequest{Standing: first})
	if err != nil {
		t.Fatal(err)
	}
	if got := told(); !proto.Equal(got, second) {
		t.Errorf("told %v, want %v", got, second)
	}
	list, err := desk.ListStandings(ctx, &ownerv1.ListStandingsRequest{})
	if err != nil || len(list.GetStandings()) != 1 || !proto.Equal(list.GetStandings()[0], second) {
		t.Errorf("got %v, %v", list, err)
	}
	second.SinceDate = day(2026, 11, 26)
	_, err = desk.UpdateStanding(ctx, &ownerv1.UpdateStandingRequest{Standing: second})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
}
