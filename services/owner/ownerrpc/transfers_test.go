package ownerrpc_test

import (
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/etcdtest"
)

// offered gives a house in which p1 owns a vehicle and has offered it, with the
// offer and its code.
func offered(t *testing.T) (h *house, vehicle string, offer *ownerv1.OfferTransferResponse) {
	t.Helper()
	h = open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	vehicle = "vehicles/" + serial(t, "AM0147")
	h.tie(t, vehicle[len("vehicles/"):], "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	ctx, own := h.owner("people/p1")
	offer, err := own.OfferTransfer(ctx, &ownerv1.OfferTransferRequest{Parent: vehicle, OfferedBy: "people/p1", RequestId: uuid(1)})
	if err != nil {
		t.Fatal(err)
	}
	return h, vehicle, offer
}

func buyer() *ownerv1.Person {
	p := person("")
	p.Name, p.FullName, p.Email = "", "Bede Quayle", "bede@quayle.example"
	return p
}

func TestAVehicleChangesHandsByACode(t *testing.T) {
	h, vehicle, offer := offered(t)
	if offer.GetCode() == "" || offer.GetTransfer().GetState() != ownerv1.TransferState_TRANSFER_STATE_OFFERED ||
		!offer.GetTransfer().GetExpireTime().AsTime().Equal(today.Add(30*24*time.Hour)) {
		t.Fatalf("got %v", offer)
	}
	h.create(t, "p2")
	h.tie(t, vehicle[len("vehicles/"):], "p2", ownerv1.Role_ROLE_CARETAKER, day(2021, 6, 1))
	deskCtx, desk := h.desk()
	_, err := desk.UpdateStanding(deskCtx, &ownerv1.UpdateStandingRequest{Standing: &ownerv1.Standing{
		Name: vehicle + "/standing", State: ownerv1.StandingState_STANDING_STATE_OWNER_UNKNOWN,
	}})
	wantReason(t, err, codes.FailedPrecondition, "OWNER_PRESENT") // that the owner is unknown is said when there is none
	if _, err := desk.UpdateStanding(deskCtx, &ownerv1.UpdateStandingRequest{Standing: &ownerv1.Standing{
		Name: vehicle + "/standing", State: ownerv1.StandingState_STANDING_STATE_EXPORTED,
	}}); err != nil {
		t.Fatal(err)
	}
	request := &ownerv1.AcceptTransferRequest{
		Parent: vehicle, Code: strings.ToLower(strings.ReplaceAll(offer.GetCode(), "-", " ")), NewOwner: buyer(), RequestId: uuid(2),
		Consents: []*ownerv1.Consent{{Purpose: ownerv1.Purpose_PURPOSE_YEAR_LETTER, Given: true, Wording: "Yes, each year.", Source: ownerv1.ConsentSource_CONSENT_SOURCE_PAGE}},
	}
	done, err := desk.AcceptTransfer(deskCtx, request)
	if err != nil {
		t.Fatal(err)
	}
	if tr := done.GetTransfer(); tr.GetState() != ownerv1.TransferState_TRANSFER_STATE_DONE || tr.GetNewOwner() != done.GetTie().GetPerson() ||
		tr.GetOfferedBy() != "people/p1" || !proto.Equal(tr.GetTransferDate(), day(2026, 11, 25)) {
		t.Errorf("got %v", tr)
	}
	bought, err := desk.GetPerson(deskCtx, &ownerv1.GetPersonRequest{Name: done.GetTie().GetPerson()})
	if err != nil || bought.GetFullName() != "Bede Quayle" || len(bought.GetConsents()) != 1 || bought.GetConsents()[0].GetWording() != "Yes, each year." {
		t.Errorf("got %v, %v", bought, err)
	}
	if n, err := desk.GetStanding(deskCtx, &ownerv1.GetStandingRequest{Name: vehicle + "/standing"}); err != nil || n.GetState() != ownerv1.StandingState_STANDING_STATE_IN_USE {
		t.Errorf("got %v, %v", n, err)
	}
	// The former side is dead at once, and the new owner is in.
	for _, former := range []string{"people/p1", "people/p2"} {
		ctx, own := h.owner(former)
		_, err = own.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: vehicle})
		wantReason(t, err, codes.NotFound, "BUILD_NOT_FOUND")
	}
	ctx, own := h.owner(done.GetTie().GetPerson())
	list, err := own.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: vehicle})
	if err != nil || len(list.GetTies()) != 1 || !proto.Equal(list.GetTies()[0], done.GetTie()) {
		t.Errorf("got %v, %v, want %v", list, err, done.GetTie())
	}
	ties, err := desk.ListTies(deskCtx, &ownerv1.ListTiesRequest{Parent: vehicle})
	if err != nil || len(ties.GetTies()) != 3 {
		t.Fatal(ties, err)
	}
	for _, tie := range ties.GetTies() {
		if ended := proto.Equal(tie.GetEndDate(), day(2026, 11, 25)); ended == (tie.GetPerson() == done.GetTie().GetPerson()) {
			t.Errorf("got %v", tie)
		}
	}
	// The same request again gives the same answer; the code is used up.
	if again, err := desk.AcceptTransfer(deskCtx, request); err != nil || !proto.Equal(again, done) {
		t.Errorf("again: got %v, %v, want %v", again, err, done)
	}
	other := proto.Clone(request).(*ownerv1.AcceptTransferRequest)
	other.NewOwner.FullName = "Cuthbert Quayle"
	_, err = desk.AcceptTransfer(deskCtx, other)
	wantReason(t, err, codes.InvalidArgument, "REQUEST_ID_REUSED")
	other.RequestId = uuid(3)
	_, err = desk.AcceptTransfer(deskCtx, other)
	wantReason(t, err, codes.FailedPrecondition, "TRANSFER_CODE_WRONG")
}

func TestTheCodeIsShownOnceAndKeptNowhere(t *testing.T) {
	client := etcdtest.Client(t)
	h := open(t, client, keyFile(t))
	h.create(t, "p1")
	vehicle := "vehicles/" + serial(t, "AM0147")
	h.tie(t, vehicle[len("vehicles/"):], "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	ctx, own := h.owner("people/p1")
	request := &ownerv1.OfferTransferRequest{Parent: vehicle, OfferedBy: "people/p1", RequestId: uuid(1)}
	first, err := own.OfferTransfer(ctx, request)
	if err != nil {
		t.Fatal(err)
	}
	again, err := own.OfferTransfer(ctx, request)
	if err != nil || again.GetCode() != "" || !proto.Equal(again.GetTransfer(), first.GetTransfer()) {
		t.Errorf("again: got %v, %v", again, err)
	}
	all, err := client.Get(t.Context(), "\x00", withAll()...)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all.Kvs {
		if strings.Contains(string(e.Value), first.GetCode()) || strings.Contains(string(e.Value), strings.ReplaceAll(first.GetCode(), "-", "")) {
			t.Errorf("the code stands under %s", e.Key)
		}
	}
}

// accept tries a code as a stranger's page does.
func (h *house) accept(vehicle, code string) error {
	ctx, desk := h.desk()
	_, err := desk.AcceptTransfer(ctx, &ownerv1.AcceptTransferRequest{Parent: vehicle, Code: code, NewOwner: buyer()})
	return err
}

const wrong = "2222-2222-2222"

func TestTwentyWrongCodesKillAnOfferAlsoOverARestart(t *testing.T) {
	client, key := etcdtest.Client(t), keyFile(t)
	h := open(t, client, key)
	h.create(t, "p1")
	vehicle := "vehicles/" + serial(t, "AM0147")
	h.tie(t, vehicle[len("vehicles/"):], "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	ctx, own := h.owner("people/p1")
	offer, err := own.OfferTransfer(ctx, &ownerv1.OfferTransferRequest{Parent: vehicle, OfferedBy: "people/p1"})
	if err != nil {
		t.Fatal(err)
	}
	for range 19 {
		wantReason(t, h.accept(vehicle, wrong), codes.FailedPrecondition, "TRANSFER_CODE_WRONG")
	}
	h.close()
	h = open(t, client, key)
	wantReason(t, h.accept(vehicle, wrong), codes.FailedPrecondition, "TRANSFER_CODE_WRONG")
	wantReason(t, h.accept(vehicle, offer.GetCode()), codes.FailedPrecondition, "TRANSFER_CODE_WRONG")
	deskCtx, desk := h.desk()
	list, err := desk.ListTransfers(deskCtx, &ownerv1.ListTransfersRequest{Parent: vehicle})
	if err != nil || len(list.GetTransfers()) != 1 || list.GetTransfers()[0].GetWrongCodes() != 20 || list.GetTransfers()[0].GetState() != ownerv1.TransferState_TRANSFER_STATE_CALLED_OFF {
		t.Errorf("got %v, %v", list, err)
	}
}

func TestWrongCodesAtOnceAreCountedEach(t *testing.T) {
	h, vehicle, _ := offered(t)
	var tries sync.WaitGroup
	var refused atomic.Int32
	for range 30 {
		tries.Go(func() {
			if err := h.accept(vehicle, wrong); err != nil && strings.Contains(err.Error(), "does not open") {
				refused.Add(1)
			}
		})
	}
	tries.Wait()
	ctx, desk := h.desk()
	list, err := desk.ListTransfers(ctx, &ownerv1.ListTransfersRequest{Parent: vehicle})
	if err != nil || list.GetTransfers()[0].GetWrongCodes() != 20 || refused.Load() != 30 {
		t.Errorf("got %v, %v; %d refused", list, err, refused.Load())
	}
}

func TestOfTwoBuyersAtOnceOneGetsTheVehicle(t *testing.T) {
	h, vehicle, offer := offered(t)
	var tries sync.WaitGroup
	var got atomic.Int32
	for range 8 {
		tries.Go(func() {
			if h.accept(vehicle, offer.GetCode()) == nil {
				got.Add(1)
			}
		})
	}
	tries.Wait()
	ctx, desk := h.desk()
	ties, err := desk.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: vehicle})
	people, err2 := desk.ListPeople(ctx, &ownerv1.ListPeopleRequest{})
	if got.Load() != 1 || err != nil || len(ties.GetTies()) != 2 || err2 != nil || len(people.GetPeople()) != 2 {
		t.Errorf("%d got it; %v, %v, %d people", got.Load(), ties, err, len(people.GetPeople()))
	}
}

// Whoever asks without the code learns the same of a vehicle on offer, of one
// that is not, of one that nobody knows, and of an offer that is over.
func TestNothingIsLearntByTryingCodes(t *testing.T) {
	h, vehicle, offer := offered(t)
	want := h.accept(vehicle, wrong).Error()
	h.create(t, "p9")
	h.tie(t, serial(t, "AM0148"), "p9", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	for name, other := range map[string]string{"not on offer": serial(t, "AM0148"), "unknown": serial(t, "AM0149")} {
		if got := h.accept("vehicles/"+other, offer.GetCode()).Error(); got != want {
			t.Errorf("%s: got %s, want %s", name, got, want)
		}
	}
	h.now = today.Add(30 * 24 * time.Hour)
	if got := h.accept(vehicle, offer.GetCode()); got == nil || got.Error() != want {
		t.Errorf("expired: got %v, want %s", got, want)
	}
	ctx, desk := h.desk()
	list, err := desk.ListTransfers(ctx, &ownerv1.ListTransfersRequest{Parent: "vehicles/-"})
	if err != nil || list.GetTransfers()[0].GetState() != ownerv1.TransferState_TRANSFER_STATE_EXPIRED {
		t.Errorf("got %v, %v", list, err)
	}
	h.now = today
	bad := &ownerv1.AcceptTransferRequest{Parent: vehicle, Code: wrong, NewOwner: &ownerv1.Person{}}
	_, err = desk.AcceptTransfer(ctx, bad)
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	bad.NewOwner, bad.Code = buyer(), "2222"
	_, err = desk.AcceptTransfer(ctx, bad)
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	bad.Code, bad.NewOwner.Name = wrong, "people/p9"
	_, err = desk.AcceptTransfer(ctx, bad)
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	list, err = desk.ListTransfers(ctx, &ownerv1.ListTransfersRequest{Parent: vehicle})
	if err != nil || list.GetTransfers()[0].GetWrongCodes() != 1 {
		t.Errorf("requests that are wrong by themselves are counted: %v, %v", list, err)
	}
}

// A refusal is written down, one transaction, whether there was something to
// open or not: otherwise the time that it takes would tell. The bound on wrong
// codes leaves whoever knows a serial room for slips.
func TestEachWrongCodeIsOneWriteWhateverThereIsToOpen(t *testing.T) {
	client := etcdtest.Client(t)
	h := open(t, client, keyFile(t))
	offered, former, bare, unknown := serial(t, "AM0147"), serial(t, "AM0148"), serial(t, "AM0149"), serial(t, "AM0151")
	h.create(t, "p1")
	ctx, own := h.owner("people/p1")
	var offer *ownerv1.OfferTransferResponse
	for _, s := range []string{offered, former, bare} {
		tie := h.tie(t, s, "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
		if s == bare {
			continue
		}
		o, err := own.OfferTransfer(ctx, &ownerv1.OfferTransferRequest{Parent: "vehicles/" + s, OfferedBy: "people/p1"})
		if err != nil {
			t.Fatal(err)
		}
		if s == offered {
			offer = o
			continue
		}
		tie.EndDate = day(2026, 11, 25)
		deskCtx, desk := h.desk()
		if _, err := desk.EndTie(deskCtx, &ownerv1.EndTieRequest{Tie: tie}); err != nil {
			t.Fatal(err)
		}
	}
	revision := func() int64 {
		t.Helper()
		r, err := client.Get(t.Context(), "none")
		if err != nil {
			t.Fatal(err)
		}
		return r.Header.Revision
	}
	took := map[string]time.Duration{}
	for range 6 {
		for name, s := range map[string]string{"on offer": offered, "no longer its owner's": former, "not on offer": bare, "unknown": unknown} {
			before, at := revision(), time.Now()
			wantReason(t, h.accept("vehicles/"+s, wrong), codes.FailedPrecondition, "TRANSFER_CODE_WRONG")
			took[name] += time.Since(at)
			if wrote := revision() - before; wrote != 1 {
				t.Errorf("%s: %d writes, want 1", name, wrote)
			}
		}
	}
	t.Logf("took %v for six each", took)
	var tries sync.WaitGroup
	for range 12 { // at once: no more than one write each, and each refused alike
		tries.Go(func() {
			wantReason(t, h.accept("vehicles/"+unknown, wrong), codes.FailedPrecondition, "TRANSFER_CODE_WRONG")
		})
	}
	tries.Wait()
	if err := h.accept("vehicles/"+offered, offer.GetCode()); err != nil {
		t.Errorf("after six guesses by somebody who knows the serial: %v", err)
	}
}

func TestOnlyWhoHoldsAVehicleOffersIt(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	v := serial(t, "AM0147")
	for i, role := range []ownerv1.Role{ownerv1.Role_ROLE_OWNER, ownerv1.Role_ROLE_EXECUTOR, ownerv1.Role_ROLE_CARETAKER, ownerv1.Role_ROLE_PAYER} {
		id := fmt.Sprintf("p%d", i)
		h.create(t, id)
		h.tie(t, v, id, role, day(2020, 6, 1))
	}
	h.create(t, "p9")
	offer := func(caller, by string) error {
		ctx, own := h.owner("people/" + caller)
		_, err := own.OfferTransfer(ctx, &ownerv1.OfferTransferRequest{Parent: "vehicles/" + v, OfferedBy: "people/" + by})
		return err
	}
	if err := offer("p0", "p0"); err != nil {
		t.Error(err)
	}
	if err := offer("p1", "p1"); err != nil {
		t.Error("an executor:", err)
	}
	wantReason(t, offer("p2", "p2"), codes.FailedPrecondition, "NOT_THE_OWNER")
	wantReason(t, offer("p2", "p0"), codes.NotFound, "PERSON_NOT_FOUND") // in another's name
	wantReason(t, offer("p3", "p3"), codes.NotFound, "BUILD_NOT_FOUND")  // paying gives no rights
	wantReason(t, offer("p9", "p9"), codes.NotFound, "BUILD_NOT_FOUND")
	deskCtx, desk := h.desk()
	_, err := desk.OfferTransfer(deskCtx, &ownerv1.OfferTransferRequest{Parent: "vehicles/" + v, OfferedBy: "people/p2"})
	wantReason(t, err, codes.FailedPrecondition, "NOT_THE_OWNER")

	// The later offer called the earlier off, and an owner may call off what is
	// open; a caretaker may not.
	list, err := desk.ListTransfers(deskCtx, &ownerv1.ListTransfersRequest{Parent: "vehicles/" + v})
	if err != nil || len(list.GetTransfers()) != 2 {
		t.Fatal(list, err)
	}
	var open []*ownerv1.Transfer
	for _, tr := range list.GetTransfers() {
		if tr.GetState() == ownerv1.TransferState_TRANSFER_STATE_OFFERED {
			open = append(open, tr)
		}
	}
	if len(open) != 1 || open[0].GetOfferedBy() != "people/p1" {
		t.Fatalf("open are %v", open)
	}
	keeperCtx, keeper := h.owner("people/p2")
	_, err = keeper.CancelTransfer(keeperCtx, &ownerv1.CancelTransferRequest{Name: open[0].GetName()})
	wantReason(t, err, codes.FailedPrecondition, "NOT_THE_OWNER")
	ctx, own := h.owner("people/p0")
	_, err = own.CancelTransfer(ctx, &ownerv1.CancelTransferRequest{Name: open[0].GetName(), Etag: "1"})
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	cancel := &ownerv1.CancelTransferRequest{Name: open[0].GetName(), Etag: open[0].GetEtag(), RequestId: uuid(7)}
	off, err := own.CancelTransfer(ctx, cancel)
	if err != nil || off.GetState() != ownerv1.TransferState_TRANSFER_STATE_CALLED_OFF {
		t.Errorf("got %v, %v", off, err)
	}
	if again, err := own.CancelTransfer(ctx, cancel); err != nil || !proto.Equal(again, off) {
		t.Errorf("again: got %v, %v", again, err)
	}
	_, err = own.CancelTransfer(ctx, &ownerv1.CancelTransferRequest{Name: open[0].GetName()})
	wantReason(t, err, codes.FailedPrecondition, "TRANSFER_CLOSED")
	_, err = own.CancelTransfer(ctx, &ownerv1.CancelTransferRequest{Name: "vehicles/" + v + "/transfers/none"})
	wantReason(t, err, codes.NotFound, "TRANSFER_NOT_FOUND")
}

func TestAnOfferDiesWithTheTieOfWhoMadeIt(t *testing.T) {
	h, vehicle, offer := offered(t)
	ctx, desk := h.desk()
	ties, err := desk.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: vehicle})
	if err != nil {
		t.Fatal(err)
	}
	tie := ties.GetTies()[0]
	tie.EndDate = day(2026, 11, 25)
	if _, err := desk.EndTie(ctx, &ownerv1.EndTieRequest{Tie: tie}); err != nil {
		t.Fatal(err)
	}
	wantReason(t, h.accept(vehicle, offer.GetCode()), codes.FailedPrecondition, "TRANSFER_CODE_WRONG")
}
