package accessrpc_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/etcdtest"
)

const (
	dealerRole   = accessv1.Role_ROLE_DEALER
	supportRole  = accessv1.Role_ROLE_SUPPORT
	engineerRole = accessv1.Role_ROLE_ENGINEER
	adminRole    = accessv1.Role_ROLE_ADMINISTRATOR
)

// account makes an account.
func (h *house) account(t *testing.T, id string, role accessv1.Role, organisation string) *accessv1.Account {
	t.Helper()
	ctx, admin := h.admin()
	made, err := admin.CreateAccount(ctx, &accessv1.CreateAccountRequest{
		Account: &accessv1.Account{Name: "accounts/" + id, FullName: "Colleague " + id, Role: role, Organisation: organisation}})
	if err != nil {
		t.Fatal(err)
	}
	return made
}

func TestAnOrganisationIsMadeChangedClosedAndOpened(t *testing.T) {
	client := etcdtest.Client(t)
	h := open(t, client)
	ctx, admin := h.admin()
	request := &accessv1.CreateOrganisationRequest{RequestId: uuid(1), Organisation: &accessv1.Organisation{
		Name: "organisations/ferncombe", Title: "Ferncombe Garage", CloseTime: timestamppb.New(today), // not taken
	}}
	made, err := admin.CreateOrganisation(ctx, request)
	if err != nil || made.GetCloseTime() != nil || !made.GetCreateTime().AsTime().Equal(today) {
		t.Fatalf("got %v, %v", made, err)
	}
	if again, err := admin.CreateOrganisation(ctx, request); err != nil || !proto.Equal(again, made) {
		t.Errorf("again: got %v, %v", again, err)
	}
	_, err = admin.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{Organisation: request.GetOrganisation()})
	wantReason(t, err, codes.AlreadyExists, "ORGANISATION_EXISTS")
	for name, update := range map[string]*accessv1.UpdateOrganisationRequest{
		"without an etag":     {Organisation: &accessv1.Organisation{Name: made.GetName(), Title: "x"}},
		"to a title too long": {Organisation: &accessv1.Organisation{Name: made.GetName(), Title: strings.Repeat("x", 121), Etag: made.GetEtag()}},
	} {
		if _, err := admin.UpdateOrganisation(ctx, update); err == nil {
			t.Errorf("changed %s", name)
		} else {
			wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
		}
	}
	closing := &accessv1.UpdateOrganisationRequest{Organisation: made, Closed: true, RequestId: uuid(2)}
	closed, err := admin.UpdateOrganisation(ctx, closing)
	if err != nil || !closed.GetCloseTime().AsTime().Equal(today) {
		t.Fatalf("got %v, %v", closed, err)
	}
	if again, err := admin.UpdateOrganisation(ctx, closing); err != nil || !proto.Equal(again, closed) {
		t.Errorf("again: got %v, %v", again, err)
	}
	_, err = admin.UpdateOrganisation(ctx, &accessv1.UpdateOrganisationRequest{Organisation: made})
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	h.Set(today.Add(time.Hour))
	closed.Title = "Ferncombe"
	still, err := admin.UpdateOrganisation(ctx, &accessv1.UpdateOrganisationRequest{Organisation: closed, Closed: true})
	if err != nil || !still.GetCloseTime().AsTime().Equal(today) || still.GetTitle() != "Ferncombe" {
		t.Errorf("closed since when: %v, %v", still, err)
	}
	// What was acknowledged is there after a start anew.
	h.close()
	h = open(t, client)
	ctx, admin = h.admin()
	kept, err := admin.GetOrganisation(ctx, &accessv1.GetOrganisationRequest{Name: made.GetName()})
	if err != nil || !proto.Equal(kept, still) {
		t.Errorf("after a start: %v, %v; want %v", kept, err, still)
	}
	if opened, err := admin.UpdateOrganisation(ctx, &accessv1.UpdateOrganisationRequest{Organisation: kept}); err != nil || opened.GetCloseTime() != nil {
		t.Errorf("got %v, %v", opened, err)
	}
	_, err = admin.GetOrganisation(ctx, &accessv1.GetOrganisationRequest{Name: "organisations/nobody"})
	wantReason(t, err, codes.NotFound, "ORGANISATION_NOT_FOUND")
	dealerCtx, dealer := h.as(ada)
	_, err = dealer.GetOrganisation(dealerCtx, &accessv1.GetOrganisationRequest{Name: made.GetName()})
	if err == nil {
		t.Error("another dealer sees it")
	}
}

func TestAKeyOfAnAccountHasItsRights(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	h.dealers(t)
	h.account(t, "ned", dealerRole, "organisations/ferncombe")
	ida := h.account(t, "ida", engineerRole, "")
	ctx, admin := h.admin()
	create := func(k *accessv1.Key) (*accessv1.CreateKeyResponse, error) {
		k.Title = "tablet"
		return admin.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: k})
	}
	made, err := create(&accessv1.Key{Account: "accounts/ned", Scopes: []string{"schedule"}, Rotates: "keys/00000000"}) // the last is not taken
	if err != nil || made.GetKey().GetRole() != dealerRole || made.GetKey().GetOrganisation() != "organisations/ferncombe" || made.GetKey().GetBearer() != "ned" || made.GetKey().GetRotates() != "" {
		t.Fatalf("got %v, %v", made, err)
	}
	who, err := h.with(made.GetSecret()).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{})
	if err != nil || who.GetOrganisation() != "organisations/ferncombe" || who.GetAccount() != "accounts/ned" ||
		who.GetCredential() != made.GetKey().GetName() || strings.Join(who.GetScopes(), " ") != "schedule" {
		t.Errorf("got %v, %v", who, err)
	}
	for name, k := range map[string]*accessv1.Key{
		"of an account that is not there":        {Account: "accounts/nobody"},
		"of another role":                        {Account: "accounts/ned", Role: adminRole},
		"of another organisation":                {Account: "accounts/ned", Organisation: "organisations/hollin"},
		"of a dealer without organisation":       {Role: dealerRole, Bearer: "bench"},
		"of an organisation that is not there":   {Role: dealerRole, Bearer: "bench", Organisation: "organisations/nobody"},
		"with a scope that is none":              {Role: supportRole, Bearer: "desk", Scopes: []string{"everything"}},
		"of a member of staff with organisation": {Role: supportRole, Bearer: "desk", Organisation: "organisations/ferncombe"},
	} {
		if got, err := create(k); err == nil {
			t.Errorf("a key %s: %v", name, got.GetKey())
		} else {
			wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
		}
	}

	// With the account its keys change, at once.
	tablet, err := create(&accessv1.Key{Account: "accounts/ida"})
	if err != nil {
		t.Fatal(err)
	}
	ida.Role = supportRole
	if ida, err = admin.UpdateAccount(ctx, &accessv1.UpdateAccountRequest{Account: ida}); err != nil {
		t.Fatal(err)
	}
	if who, err := h.with(tablet.GetSecret()).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{}); err != nil || who.GetRole() != supportRole {
		t.Errorf("got %v, %v", who, err)
	}
	if _, err = admin.UpdateAccount(ctx, &accessv1.UpdateAccountRequest{Account: ida, Closed: true}); err != nil {
		t.Fatal(err)
	}
	if who, err := h.with(tablet.GetSecret()).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{}); err == nil {
		t.Errorf("the key of a closed account: %v", who)
	}
	_, err = admin.RotateKey(ctx, &accessv1.RotateKeyRequest{Name: tablet.GetKey().GetName()})
	wantReason(t, err, codes.FailedPrecondition, "HOLDER_CLOSED")
	if _, err := create(&accessv1.Key{Account: "accounts/ida"}); err == nil {
		t.Error("a closed account got a key")
	}
}

// A key that is made while the account's role changes has the new role, or is
// not made.
func TestNoKeyKeepsARoleThatItsAccountLost(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	a := h.account(t, "ida", engineerRole, "")
	ctx, admin := h.admin()
	for range 15 {
		var wait sync.WaitGroup
		wait.Go(func() {
			_, _ = admin.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Account: a.GetName(), Title: "t"}})
		})
		was := proto.Clone(a).(*accessv1.Account)
		if was.Role = supportRole; a.GetRole() == supportRole {
			was.Role = engineerRole
		}
		wait.Go(func() { _, _ = admin.UpdateAccount(ctx, &accessv1.UpdateAccountRequest{Account: was}) })
		wait.Wait()
		var err error
		if a, err = admin.GetAccount(ctx, &accessv1.GetAccountRequest{Name: a.GetName()}); err != nil {
			t.Fatal(err)
		}
		keys, err := admin.ListKeys(ctx, &accessv1.ListKeysRequest{PageSize: 500})
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range keys.GetKeys() {
			if k.GetAccount() != "" && k.GetRole() != a.GetRole() {
				t.Fatalf("%s is %s, the account %s", k.GetName(), k.GetRole(), a.GetRole())
			}
		}
	}
}

func TestTheLastAdministratorWhoCanSignInStays(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	ida, max := h.account(t, "ida", adminRole, ""), h.account(t, "max", adminRole, "")
	h.signIns["ida"] = true // max was never invited
	update := func(a *accessv1.Account, role accessv1.Role, closed bool) error {
		changed := proto.Clone(a).(*accessv1.Account)
		changed.Role = role
		_, err := admin.UpdateAccount(ctx, &accessv1.UpdateAccountRequest{Account: changed, Closed: closed})
		return err
	}
	wantReason(t, update(ida, adminRole, true), codes.FailedPrecondition, "LAST_ADMINISTRATOR")
	wantReason(t, update(ida, supportRole, false), codes.FailedPrecondition, "LAST_ADMINISTRATOR")
	if err := update(max, adminRole, true); err != nil {
		t.Errorf("one who cannot sign in: %v", err)
	}
	got, err := admin.GetAccount(ctx, &accessv1.GetAccountRequest{Name: ida.GetName()})
	if err != nil || len(got.GetWays()) != 1 || got.GetLastSignInTime() == nil {
		t.Errorf("got %v, %v", got, err)
	}

	// Two who close each other at once do not both succeed.
	for n := range 10 {
		a, b := h.account(t, "a"+string(rune('a'+n)), adminRole, ""), h.account(t, "b"+string(rune('a'+n)), adminRole, "")
		h.signIns["ida"] = false
		h.signIns[strings.TrimPrefix(a.GetName(), "accounts/")], h.signIns[strings.TrimPrefix(b.GetName(), "accounts/")] = true, true
		results := make(chan error, 2)
		for _, one := range []*accessv1.Account{a, b} {
			go func() { results <- update(one, adminRole, true) }()
		}
		if first, second := <-results, <-results; (first == nil) == (second == nil) {
			t.Fatalf("of two closed at once: %v and %v", first, second)
		}
		h.signIns["ida"] = true // so that the rest can be closed
		for _, one := range []*accessv1.Account{a, b} {
			delete(h.signIns, strings.TrimPrefix(one.GetName(), "accounts/"))
		}
	}
}

func TestAnAccountIsListedAndChangedWithItsEtag(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	h.dealers(t)
	for _, id := range []string{"ned", "ada", "ida"} {
		h.account(t, id, supportRole, "")
	}
	var names []string
	for token := ""; ; {
		list, err := admin.ListAccounts(ctx, &accessv1.ListAccountsRequest{PageSize: 2, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range list.GetAccounts() {
			names = append(names, a.GetName())
		}
		if token = list.GetNextPageToken(); token == "" {
			break
		}
	}
	if got := strings.Join(names, " "); got != "accounts/ada accounts/ida accounts/ned" {
		t.Errorf("got %s", got)
	}
	_, err := admin.UpdateAccount(ctx, &accessv1.UpdateAccountRequest{Account: &accessv1.Account{Name: "accounts/nobody", FullName: "N", Role: supportRole, Etag: "1"}})
	wantReason(t, err, codes.NotFound, "ACCOUNT_NOT_FOUND")
	_, err = admin.UpdateAccount(ctx, &accessv1.UpdateAccountRequest{Account: &accessv1.Account{Name: "accounts/ned", FullName: "N", Role: supportRole, Etag: "zz"}})
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	_, err = admin.CreateAccount(ctx, &accessv1.CreateAccountRequest{Account: &accessv1.Account{Name: "accounts/ned", FullName: "N", Role: supportRole}})
	wantReason(t, err, codes.AlreadyExists, "ACCOUNT_EXISTS")
	_, err = admin.CreateAccount(ctx, &accessv1.CreateAccountRequest{Account: &accessv1.Account{Name: "accounts/max", FullName: "N", Role: dealerRole, Organisation: "organisations/nobody"}})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
}

func TestAKeyIsReplacedByOneThatIsGoodBesideIt(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	old, err := admin.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "tablet", Role: supportRole, Bearer: "bench", Scopes: []string{"parts"}}})
	if err != nil {
		t.Fatal(err)
	}
	request := &accessv1.RotateKeyRequest{Name: old.GetKey().GetName(), Overlap: durationpb.New(24 * time.Hour), Etag: old.GetKey().GetEtag(), RequestId: uuid(9)}
	next, err := admin.RotateKey(ctx, request)
	if err != nil || next.GetKey().GetRotates() != old.GetKey().GetName() || next.GetSecret() == "" || next.GetKey().GetBearer() != "bench" {
		t.Fatalf("got %v, %v", next, err)
	}
	if again, err := admin.RotateKey(ctx, request); err != nil || again.GetSecret() != "" || !proto.Equal(again.GetKey(), next.GetKey()) {
		t.Errorf("again: got %v, %v", again, err)
	}
	good := func(made *accessv1.CreateKeyResponse) error {
		_, err := h.with(made.GetSecret()).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{})
		return err
	}
	if err := errors.Join(good(old), good(next)); err != nil {
		t.Error(err)
	}
	for _, made := range []*accessv1.CreateKeyResponse{old, next} {
		_, err := admin.RotateKey(ctx, &accessv1.RotateKeyRequest{Name: made.GetKey().GetName()})
		wantReason(t, err, codes.FailedPrecondition, "KEY_ROTATING")
	}
	h.Set(today.Add(24 * time.Hour))
	wantReason(t, good(old), codes.Unauthenticated, "KEY_EXPIRED")
	if err := good(next); err != nil {
		t.Error(err)
	}
	at, err := admin.RotateKey(ctx, &accessv1.RotateKeyRequest{Name: next.GetKey().GetName(), Overlap: durationpb.New(0)})
	if err != nil || good(at) != nil {
		t.Errorf("got %v, %v", at, err)
	}
	wantReason(t, good(next), codes.Unauthenticated, "KEY_EXPIRED")
	_, err = admin.RotateKey(ctx, &accessv1.RotateKeyRequest{Name: at.GetKey().GetName(), Overlap: durationpb.New(91 * 24 * time.Hour)})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	_, err = admin.RotateKey(ctx, &accessv1.RotateKeyRequest{Name: at.GetKey().GetName(), Etag: "zz"})
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	_, err = admin.RotateKey(ctx, &accessv1.RotateKeyRequest{Name: "keys/00000000"})
	wantReason(t, err, codes.NotFound, "KEY_NOT_FOUND")
}

func TestTheLastUseOfAKeyIsKeptToTheHourAndNeverGoesBack(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	made, err := admin.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "t", Role: supportRole, Bearer: "b"}})
	if err != nil {
		t.Fatal(err)
	}
	name := made.GetKey().GetName()
	gateCtx, service := h.as(gate)
	note := func(key string, at time.Time) error {
		_, err := service.NoteKeyUses(gateCtx, &accessv1.NoteKeyUsesRequest{Uses: []*accessv1.KeyUse{{Key: key, LastUseTime: timestamppb.New(at)}}})
		return err
	}
	last := func() string {
		list, err := admin.ListKeys(ctx, &accessv1.ListKeysRequest{})
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range list.GetKeys() {
			if k.GetName() == name {
				if k.GetEtag() != made.GetKey().GetEtag() {
					t.Errorf("a use changed the etag to %s", k.GetEtag())
				}
				if k.GetLastUseTime() == nil {
					return "never"
				}
				return k.GetLastUseTime().AsTime().Format("02 15:04:05")
			}
		}
		return "gone"
	}
	if got := last(); got != "never" {
		t.Errorf("before: %s", got)
	}
	for _, c := range []struct {
		at   time.Duration
		want string
	}{
		{-90 * time.Minute, "25 10:00:00"}, {-90 * time.Minute, "25 10:00:00"}, {-26 * time.Hour, "25 10:00:00"},
		{-time.Second, "25 11:00:00"}, {5 * time.Hour, "25 12:00:00"}, // a clock that is ahead
	} {
		if err := note(name, today.Add(c.at)); err != nil {
			t.Fatal(err)
		}
		if got := last(); got != c.want {
			t.Errorf("used %s: kept %s, want %s", c.at, got, c.want)
		}
	}
	if err := note("keys/00000000", today); err != nil {
		t.Errorf("a key that is not there: %v", err)
	}
	wantReason(t, note("00000000", today), codes.InvalidArgument, "INVALID_FIELD")
	_, err = admin.NoteKeyUses(ctx, &accessv1.NoteKeyUsesRequest{})
	wantReason(t, err, codes.PermissionDenied, "ROLE_MAY_NOT")
	_, err = service.NoteKeyUses(gateCtx, &accessv1.NoteKeyUsesRequest{Uses: make([]*accessv1.KeyUse, 501)})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")

	// Many gates at once: the latest stays.
	var wait sync.WaitGroup
	h.Set(today.Add(100 * time.Hour))
	for n := range 20 {
		wait.Go(func() {
			if err := note(name, today.Add(time.Duration(n)*time.Hour)); err != nil {
				t.Error(err)
			}
		})
	}
	wait.Wait()
	if got := last(); got != "26 07:00:00" {
		t.Errorf("of twenty at once: %s", got)
	}
}

func TestTheDoorIsToldOfEverythingAndOfEachChange(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	h.dealers(t)
	h.account(t, "ida", supportRole, "")
	consent := h.assign(t, p1, "AM0101G", &accessv1.Assignment{Organisation: "organisations/ferncombe"})
	gateCtx, service := h.as(gate)
	ctx, cancel := context.WithCancel(gateCtx)
	defer cancel()
	stream, err := service.WatchDoor(ctx, &accessv1.WatchDoorRequest{})
	if err != nil {
		t.Fatal(err)
	}
	first, err := stream.Recv()
	if err != nil || !first.GetSynced() || len(first.GetOrganisations()) != 2 || len(first.GetAccounts()) != 1 || len(first.GetAssignments()) != 1 {
		t.Fatalf("got %v, %v", first, err)
	}
	if got := first.GetAssignments()[0].GetConsentedBy(); got != "people/p1" {
		t.Errorf("the gates are told that %q consented", got)
	}
	ownerCtx, owner := h.as(p1)
	if _, err := owner.EndAssignment(ownerCtx, &accessv1.EndAssignmentRequest{Name: consent.GetName()}); err != nil {
		t.Fatal(err)
	}
	for ended := false; !ended; {
		next, err := stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range next.GetAssignments() {
			ended = a.GetName() == consent.GetName() && a.GetEnd() != nil && next.GetRevision() > first.GetRevision()
		}
	}
}
