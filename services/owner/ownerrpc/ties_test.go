package ownerrpc_test

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/internal/etcdtest"
)

func TestATieIsMadeAndEnded(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	am0147 := serial(t, "AM0147")
	ctx, desk := h.desk()
	request := &ownerv1.CreateTieRequest{
		Parent: "vehicles/am-0147 " + strings.ToLower(am0147[6:]), RequestId: uuid(1),
		Tie: &ownerv1.Tie{Person: "people/p1", Role: ownerv1.Role_ROLE_OWNER, Notices: true, StartDate: day(2020, 6, 1)},
	}
	made, err := desk.CreateTie(ctx, request)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(made.GetName(), "vehicles/"+am0147+"/ties/") || made.GetEtag() == "" {
		t.Errorf("got %v", made)
	}
	end := &ownerv1.EndTieRequest{Tie: &ownerv1.Tie{Name: made.GetName(), Etag: made.GetEtag(), EndDate: day(2026, 11, 25)}, RequestId: uuid(2)}
	ended, err := desk.EndTie(ctx, end)
	want := proto.Clone(made).(*ownerv1.Tie)
	want.EndDate = day(2026, 11, 25)
	want.Etag = ended.GetEtag()
	if err != nil || !proto.Equal(ended, want) || ended.GetEtag() == made.GetEtag() {
		t.Errorf("got %v, %v; want %v", ended, err, want)
	}
	if again, err := desk.CreateTie(ctx, request); err != nil || !proto.Equal(again, made) {
		t.Errorf("made again: got %v, %v; want %v", again, err, made)
	}
	if again, err := desk.EndTie(ctx, end); err != nil || !proto.Equal(again, ended) {
		t.Errorf("ended again: got %v, %v; want %v", again, err, ended)
	}

	end.RequestId = uuid(3)
	_, err = desk.EndTie(ctx, end)
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	end.Tie.Etag = ended.GetEtag()
	_, err = desk.EndTie(ctx, end)
	wantReason(t, err, codes.FailedPrecondition, "TIE_ENDED")
	end.Tie.Name = "vehicles/" + am0147 + "/ties/none"
	_, err = desk.EndTie(ctx, end)
	wantReason(t, err, codes.NotFound, "TIE_NOT_FOUND")
}

func TestNoticesOfATieAreSwitchedAndNothingElse(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	ctx, desk := h.desk()
	made, err := desk.CreateTie(ctx, &ownerv1.CreateTieRequest{
		Parent: "vehicles/" + serial(t, "AM0147"), Tie: &ownerv1.Tie{Person: "people/p1", Role: ownerv1.Role_ROLE_PAYER, StartDate: day(2020, 6, 1)},
	})
	if err != nil {
		t.Fatal(err)
	}
	switched, err := desk.UpdateTie(ctx, &ownerv1.UpdateTieRequest{RequestId: uuid(1), Tie: &ownerv1.Tie{
		Name: made.GetName(), Etag: made.GetEtag(), Notices: true, Role: ownerv1.Role_ROLE_OWNER, Person: "people/p9", EndDate: day(2021, 1, 1),
	}})
	want := proto.CloneOf(made)
	want.Notices, want.Etag = true, switched.GetEtag()
	if err != nil || !proto.Equal(switched, want) || switched.GetEtag() == made.GetEtag() {
		t.Fatalf("got %v, %v; want %v", switched, err, want)
	}
	_, err = desk.UpdateTie(ctx, &ownerv1.UpdateTieRequest{RequestId: uuid(2), Tie: made})
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	ended, err := desk.EndTie(ctx, &ownerv1.EndTieRequest{RequestId: uuid(3), Tie: &ownerv1.Tie{Name: made.GetName(), Etag: switched.GetEtag(), EndDate: day(2026, 11, 25)}})
	if err != nil {
		t.Fatal(err)
	}
	_, err = desk.UpdateTie(ctx, &ownerv1.UpdateTieRequest{RequestId: uuid(4), Tie: ended})
	wantReason(t, err, codes.FailedPrecondition, "TIE_ENDED")
}

func TestATieNeedsAPersonARole(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	ctx, desk := h.desk()
	for field, tie := range map[string]*ownerv1.Tie{
		"tie.person":   {Person: "people/p9", Role: ownerv1.Role_ROLE_OWNER, StartDate: day(2020, 6, 1)},
		"tie.role":     {Person: "people/p1", StartDate: day(2020, 6, 1)},
		"tie.end_date": {Person: "people/p1", Role: ownerv1.Role_ROLE_OWNER, StartDate: day(2020, 6, 2), EndDate: day(2020, 6, 1)},
	} {
		_, err := desk.CreateTie(ctx, &ownerv1.CreateTieRequest{Parent: "vehicles/" + serial(t, "AM0147"), Tie: tie})
		wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
		if !strings.Contains(status.Convert(err).Message(), field+": got") {
			t.Errorf("%s: got %v", field, err)
		}
	}
}

func TestASecondOwnerIsRefusedUnlessJoint(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	h.create(t, "p2")
	am0147 := serial(t, "AM0147")
	h.tie(t, am0147, "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	ctx, desk := h.desk()
	second := &ownerv1.CreateTieRequest{
		Parent: "vehicles/" + am0147, Tie: &ownerv1.Tie{Person: "people/p2", Role: ownerv1.Role_ROLE_OWNER, StartDate: day(2026, 11, 25)},
	}
	_, err := desk.CreateTie(ctx, second)
	wantReason(t, err, codes.FailedPrecondition, "OWNER_PRESENT")
	second.Joint = true
	if _, err := desk.CreateTie(ctx, second); err != nil {
		t.Error(err)
	}
}

func TestOfTwoOwnersAtOnceOneIsAdmitted(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	const rivals = 8
	for n := range rivals {
		h.create(t, fmt.Sprintf("p%d", n))
	}
	ctx, desk := h.desk()
	for round := range 10 {
		s := serial(t, fmt.Sprintf("AM%03d", 200+round))
		var mu sync.Mutex
		var all sync.WaitGroup
		admitted := 0
		for n := range rivals {
			all.Go(func() {
				_, err := desk.CreateTie(ctx, &ownerv1.CreateTieRequest{
					Parent: "vehicles/" + s,
					Tie:    &ownerv1.Tie{Person: fmt.Sprintf("people/p%d", n), Role: ownerv1.Role_ROLE_OWNER, StartDate: day(2026, 11, 25)},
				})
				mu.Lock()
				defer mu.Unlock()
				switch status.Code(err) {
				case codes.OK:
					admitted++
				case codes.Aborted, codes.FailedPrecondition:
				default:
					t.Error(err)
				}
			})
		}
		all.Wait()
		if admitted != 1 {
			t.Fatalf("round %d: %d owners", round, admitted)
		}
	}
}

func TestATransferCutsTheFormerOwnerOffAtOnce(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	h.create(t, "p2")
	am0147 := serial(t, "AM0147")
	tie := h.tie(t, am0147, "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	sees := func(person string) bool {
		t.Helper()
		ctx, _ := h.owner(person)
		_, err := buildv1.NewBuildServiceClient(accessgate.Forward(h.server.InProcess(), "")).GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/" + am0147})
		switch status.Code(err) {
		case codes.Unimplemented: // the gate let it through
			return true
		case codes.NotFound:
			return false
		}
		t.Fatal(err)
		return false
	}
	if !sees("people/p1") || sees("people/p2") {
		t.Error("before the transfer")
	}
	ctx, desk := h.desk()
	if _, err := desk.EndTie(ctx, &ownerv1.EndTieRequest{Tie: &ownerv1.Tie{Name: tie.GetName(), Etag: tie.GetEtag(), EndDate: day(2026, 11, 25)}}); err != nil {
		t.Fatal(err)
	}
	if sees("people/p1") {
		t.Error("the former owner still sees the vehicle after the answer")
	}
	h.tie(t, am0147, "p2", ownerv1.Role_ROLE_OWNER, day(2026, 11, 25))
	if !sees("people/p2") || sees("people/p1") {
		t.Error("after the transfer")
	}

	// A tie that begins tomorrow counts tomorrow, without anything happening.
	h.create(t, "p3")
	h.tie(t, am0147, "p3", ownerv1.Role_ROLE_CARETAKER, day(2026, 11, 26))
	if sees("people/p3") {
		t.Error("a caretaker sees the vehicle before the first day")
	}
	h.now = today.AddDate(0, 0, 1)
	if !sees("people/p3") {
		t.Error("a caretaker does not see the vehicle on the first day")
	}
}

func TestTiesAreListedByVehicleTheOldestFirst(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	for _, id := range []string{"p1", "p2", "p3"} {
		h.create(t, id)
	}
	a, b, c := serial(t, "AM0147"), serial(t, "AM0148"), serial(t, "AM0149")
	h.tie(t, b, "p1", ownerv1.Role_ROLE_OWNER, day(2021, 1, 1))
	h.tie(t, a, "p2", ownerv1.Role_ROLE_PAYER, day(2024, 1, 1))
	h.tie(t, a, "p1", ownerv1.Role_ROLE_OWNER, day(2020, 1, 1))
	h.tie(t, c, "p3", ownerv1.Role_ROLE_OWNER, day(2022, 1, 1))
	h.tie(t, a, "p3", ownerv1.Role_ROLE_CARETAKER, day(2022, 1, 1))
	list := func(ctx context.Context, over ownerv1.OwnerServiceClient, parent string, size int32) string {
		t.Helper()
		var out []string
		for token := ""; ; {
			r, err := over.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: parent, PageSize: size, PageToken: token})
			if err != nil {
				t.Fatal(err)
			}
			if len(r.GetTies()) > int(size) {
				t.Errorf("%d ties on a page of %d", len(r.GetTies()), size)
			}
			for _, x := range r.GetTies() {
				out = append(out, x.GetName()[len("vehicles/"):len("vehicles/")+7]+" "+strings.TrimPrefix(x.GetPerson(), "people/"))
			}
			if token = r.GetNextPageToken(); token == "" {
				return strings.Join(out, ", ")
			}
		}
	}
	all := fmt.Sprintf("%s p1, %s p3, %s p2, %s p1, %s p3", a, a, a, b, c)
	deskCtx, desk := h.desk()
	for size := int32(1); size <= 6; size++ {
		if got := list(deskCtx, desk, "vehicles/-", size); got != all {
			t.Errorf("in pages of %d: got %s, want %s", size, got, all)
		}
		if got, want := list(deskCtx, desk, "vehicles/"+a, size), fmt.Sprintf("%s p1, %s p3, %s p2", a, a, a); got != want {
			t.Errorf("in pages of %d: got %s, want %s", size, got, want)
		}
	}
	if got := list(deskCtx, desk, "vehicles/"+serial(t, "AM0999"), 5); got != "" {
		t.Errorf("a vehicle without ties: got %s", got)
	}
	// An owner sees their own and nobody else's, on their vehicle too.
	ctx, own := h.owner("people/p1")
	for size := int32(1); size <= 3; size++ {
		if got, want := list(ctx, own, "vehicles/-", size), fmt.Sprintf("%s p1, %s p1", a, b); got != want {
			t.Errorf("an owner's: got %s, want %s", got, want)
		}
		if got, want := list(ctx, own, "vehicles/"+a, size), a+" p1"; got != want {
			t.Errorf("an owner's of one vehicle: got %s, want %s", got, want)
		}
	}
	_, err := own.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/" + c})
	wantReason(t, err, codes.NotFound, "BUILD_NOT_FOUND")
	_, err = desk.ListTies(deskCtx, &ownerv1.ListTiesRequest{Parent: "vehicles/nonsense"})
	if status.Code(err) != codes.InvalidArgument {
		t.Errorf("got %v", err)
	}
}

func TestAWatchTellsAllAndThenEachChange(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	first := h.tie(t, serial(t, "AM0147"), "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	stream, err := h.service().WatchTies(ctx, &ownerv1.WatchTiesRequest{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := stream.Recv()
	if err != nil || !r.GetSynced() || r.GetRevision() == 0 || len(r.GetTies()) != 1 || !proto.Equal(r.GetTies()[0], first) {
		t.Fatalf("got %v, %v; want %v", r, err, first)
	}
	second := h.tie(t, serial(t, "AM0148"), "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	for {
		r, err := stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		if len(r.GetTies()) == 0 {
			continue // only the revision moved on
		}
		if len(r.GetTies()) != 1 || !proto.Equal(r.GetTies()[0], second) {
			t.Errorf("got %v, want %v", r, second)
		}
		break
	}
	if text := fmt.Sprint(r); strings.Contains(text, "Nettlefold") {
		t.Error("a watch tells names")
	}
	deskCtx, desk := h.desk()
	denied, err := desk.WatchTies(deskCtx, &ownerv1.WatchTiesRequest{})
	if err == nil {
		_, err = denied.Recv()
	}
	wantReason(t, err, codes.PermissionDenied, "ROLE_MAY_NOT")
}
