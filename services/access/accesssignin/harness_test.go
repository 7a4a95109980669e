package accesssignin_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesssignin"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/onetime"
	"halfshaft/services/internal/password"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var today = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

// house is a sign-in service over an etcd of its own, with a clock that is
// moved by hand.
type house struct {
	*accesssignin.Service
	*handclock.Clock
	t     *testing.T
	kv    *kv.Store
	doors *accessstore.Store
}

// open starts the service over a new store.
func open(t *testing.T, change ...func(*accesssignin.Config)) *house {
	t.Helper()
	h := &house{t: t, kv: kv.NewStore(etcdtest.Client(t)), Clock: handclock.At(today)}
	var err error
	if h.doors, err = accessstore.Open(t.Context(), h.kv, nil); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(h.doors.Close)
	h.start(change...)
	return h
}

// start starts another process over the same store.
func (h *house) start(change ...func(*accesssignin.Config)) {
	h.t.Helper()
	kept, err := accessstore.OpenSignIns(h.t.Context(), h.kv, nil)
	if err != nil {
		h.t.Fatal(err)
	}
	key, err := onetime.NewKey(make([]byte, 32))
	if err != nil {
		h.t.Fatal(err)
	}
	c := accesssignin.Config{
		Store: kept, Key: key, Hasher: password.New(password.Cost{Passes: 1, KiB: 8, Threads: 1}),
		Works: "Aldermoor Works", URL: "https://desk.aldermoor.example", Clock: h.Now,
	}
	for _, f := range change {
		f(&c)
	}
	if h.Service, err = accesssignin.New(context.Background(), c); err != nil {
		h.t.Fatal(err)
	}
	service := h.Service
	h.t.Cleanup(func() {
		if err := service.Close(); err != nil {
			h.t.Error(err)
		}
		kept.Close()
	})
}

// account makes an account.
func (h *house) account(id string, role access.Role) string {
	h.t.Helper()
	a := access.Account{ID: id, FullName: "Somebody", Role: role, Created: h.Now()}
	if _, err := h.doors.CreateAccount(h.t.Context(), a, "", nil); err != nil {
		h.t.Fatal(err)
	}
	return a.Name()
}

// close closes an account, or opens it again.
func (h *house) close(id string, closed bool) {
	h.t.Helper()
	record, revision := h.record(id)
	record.Closed = time.Time{}
	if closed {
		record.Closed = h.Now()
	}
	done, err := h.doors.ReplaceAccount(h.t.Context(), record, revision, nil, "", nil)
	if err != nil {
		h.t.Fatal(err)
	}
	if err := h.doors.Wait(h.t.Context(), done.Revision); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) record(id string) (access.Account, int64) {
	h.t.Helper()
	kept, err := accessstore.OpenSignIns(h.t.Context(), h.kv, nil)
	if err != nil {
		h.t.Fatal(err)
	}
	defer kept.Close()
	holder, err := kept.Holder(h.t.Context(), id)
	if err != nil || holder == nil {
		h.t.Fatalf("%v, %v", holder, err)
	}
	return holder.Account, holder.ModRevision
}

// invite makes an invitation.
func (h *house) invite(account string) string {
	h.t.Helper()
	made, err := h.InviteAccount(h.t.Context(), &accessv1.InviteAccountRequest{Account: account})
	if err != nil {
		h.t.Fatal(err)
	}
	return made.GetSecret()
}

func byInvitation(secret string) *accessv1.Proof {
	return &accessv1.Proof{Secret: &accessv1.Proof_Invitation{Invitation: secret}}
}

func bySession(secret string) *accessv1.Proof {
	return &accessv1.Proof{Secret: &accessv1.Proof_Session{Session: secret}}
}

// person is somebody with a password and an authenticator.
type person struct {
	h                     *house
	account, secret, word string
	codes                 []string
	session               *accessv1.SessionGrant
}

const goodWord = "seven pistons in the shed"

// accept accepts an invitation with a password and codes.
func (h *house) accept(account, invitation string) *person {
	h.t.Helper()
	p := &person{h: h, account: account, word: goodWord}
	added := p.setUp(byInvitation(invitation))
	p.session = added.GetGrant()
	return p
}

// setUp sets up a password.
func (p *person) setUp(proof *accessv1.Proof) *accessv1.WayAdded {
	p.h.t.Helper()
	begun, err := p.h.BeginPassword(p.h.t.Context(), &accessv1.BeginPasswordRequest{Account: p.account, Proof: proof, Password: p.word})
	if err != nil {
		p.h.t.Fatal(err)
	}
	p.secret = begun.GetCodeSecret()
	added, err := p.h.FinishPassword(p.h.t.Context(), &accessv1.FinishPasswordRequest{
		Account: p.account, Proof: proof, Ceremony: begun.GetCeremony(), Code: p.code(), Network: "192.0.2.1",
	})
	if err != nil {
		p.h.t.Fatal(err)
	}
	p.codes = added.GetRecoveryCodes()
	return added
}

// staff makes somebody of a role who has accepted an invitation.
func (h *house) staff(id string, role access.Role) *person {
	h.t.Helper()
	account := h.account(id, role)
	return h.accept(account, h.invite(account))
}

// code is what the authenticator shows now.
func (p *person) code() string {
	p.h.t.Helper()
	code, err := onetime.Code(p.secret, onetime.Step(p.h.Now()))
	if err != nil {
		p.h.t.Fatal(err)
	}
	return code
}

// signIn tries to sign in.
func (p *person) signIn(word, code string) (*accessv1.SessionGrant, error) {
	return p.h.SignIn(p.h.t.Context(), &accessv1.SignInRequest{Account: p.account, Password: word, Code: code, Network: "192.0.2.1"})
}

// in signs in with the next code and wants to be let in.
func (p *person) in() *accessv1.SessionGrant {
	p.h.t.Helper()
	p.h.Move(30 * time.Second)
	grant, err := p.signIn(p.word, p.code())
	if err != nil {
		p.h.t.Fatal(err)
	}
	return grant
}

// check says whether a session is good.
func (h *house) check(grant *accessv1.SessionGrant) error {
	_, err := h.CheckSession(h.t.Context(), &accessv1.CheckSessionRequest{Secret: grant.GetSecret()})
	return err
}

// wantReason fails unless err is a fault with the reason; "" is none.
func wantReason(t *testing.T, what string, err error, reason string) *fault.Error {
	t.Helper()
	f, _ := err.(*fault.Error)
	switch {
	case err == nil && reason == "":
	case f == nil || f.Reason != reason:
		t.Errorf("%s: got %v, want %q", what, err, reason)
	}
	return f
}

func uuid(n int) string { return fmt.Sprintf("0190c5a2-7f3e-7b1d-9a44-%012d", n) }

// everything gives all values of the store in one text.
func (h *house) everything() string {
	h.t.Helper()
	var b strings.Builder
	if _, err := kv.Scan(h.t.Context(), h.kv.Client(), "/", func(e kv.Entry) error {
		b.WriteString(e.Key + "\n")
		b.Write(e.Value)
		return nil
	}); err != nil {
		h.t.Fatal(err)
	}
	return b.String()
}
