package accesssignin_test

import (
	"strings"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
)

func TestAnInvitationIsShownOnceAndWorksOnce(t *testing.T) {
	h := open(t)
	account := h.account("ida", access.Administrator)
	request := &accessv1.InviteAccountRequest{Account: account, RequestId: uuid(1)}
	made, err := h.InviteAccount(t.Context(), request)
	if err != nil || made.GetUrl() != "https://desk.aldermoor.example/invitation/"+made.GetSecret() || !made.GetExpireTime().AsTime().Equal(today.Add(72*time.Hour)) {
		t.Fatalf("got %v, %v", made, err)
	}
	if again, err := h.InviteAccount(t.Context(), request); err != nil || again.GetSecret() != "" || again.GetUrl() != "" || !again.GetExpireTime().AsTime().Equal(made.GetExpireTime().AsTime()) {
		t.Errorf("asked again: %v, %v", again, err)
	}
	if strings.Contains(h.everything(), made.GetSecret()[4:]) {
		t.Error("the secret stands in the store")
	}
	found, err := h.CheckInvitation(t.Context(), &accessv1.CheckInvitationRequest{Secret: made.GetSecret()})
	if err != nil || found.GetAccount().GetName() != account {
		t.Errorf("got %v, %v", found, err)
	}
	p := h.accept(account, made.GetSecret())
	if err := h.check(p.session); err != nil {
		t.Errorf("the session that accepting opened: %v", err)
	}
	_, err = h.CheckInvitation(t.Context(), &accessv1.CheckInvitationRequest{Secret: made.GetSecret()})
	wantReason(t, "a second time", err, "INVITATION_OVER")
	_, err = h.BeginPassword(t.Context(), &accessv1.BeginPasswordRequest{Account: account, Proof: byInvitation(made.GetSecret()), Password: goodWord})
	wantReason(t, "accepting it a second time", err, "INVITATION_OVER")
}

func TestWhichInvitationsOpenNothing(t *testing.T) {
	h := open(t)
	check := func(secret string) error {
		_, err := h.CheckInvitation(t.Context(), &accessv1.CheckInvitationRequest{Secret: secret})
		return err
	}
	ida := h.account("ida", access.Support)
	bert := h.account("bert", access.Support)
	first := h.invite(ida)
	second := h.invite(ida)
	wantReason(t, "one that was replaced", check(first), "INVITATION_OVER")
	wantReason(t, "the later one", check(second), "")
	wantReason(t, "none", check(""), "INVITATION_OVER")
	wantReason(t, "an invented one", check("hsi_"+strings.Repeat("0", 52)), "INVITATION_OVER")
	_, err := h.BeginPassword(t.Context(), &accessv1.BeginPasswordRequest{Account: bert, Proof: byInvitation(second), Password: goodWord})
	wantReason(t, "somebody else's", err, "INVITATION_OVER")
	h.Move(72*time.Hour - time.Second)
	wantReason(t, "at the end of its time", check(second), "")
	h.Move(time.Second)
	wantReason(t, "past its time", check(second), "INVITATION_OVER")

	third := h.invite(ida)
	h.close("ida", true)
	wantReason(t, "of a closed account", check(third), "INVITATION_OVER")
	_, err = h.InviteAccount(t.Context(), &accessv1.InviteAccountRequest{Account: ida})
	wantReason(t, "inviting a closed account", err, "ACCOUNT_CLOSED")
	_, err = h.InviteAccount(t.Context(), &accessv1.InviteAccountRequest{Account: "accounts/nobody"})
	wantReason(t, "inviting nobody", err, "ACCOUNT_NOT_FOUND")
	_, err = h.InviteAccount(t.Context(), &accessv1.InviteAccountRequest{Account: "ida"})
	wantReason(t, "a name that is none", err, "INVALID_FIELD")
}

func TestBeingInvitedAgainResetsNothingBeforeItIsAccepted(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	again := h.invite(p.account)
	session := p.in() // still by the old password
	old := *p
	p = h.accept(p.account, again)
	wantReason(t, "an earlier session", h.check(session), "SESSION_OVER")
	h.Move(30 * time.Second)
	_, err := h.SignIn(t.Context(), &accessv1.SignInRequest{Account: p.account, Password: old.word, Code: old.code()})
	wantReason(t, "a code of the old authenticator", err, "SIGN_IN_REFUSED")
	_, err = h.SignIn(t.Context(), &accessv1.SignInRequest{Account: p.account, Password: p.word, Code: old.codes[0]})
	wantReason(t, "an old recovery code", err, "SIGN_IN_REFUSED")
	if _, err := p.signIn(p.word, p.code()); err != nil {
		t.Errorf("by the new: %v", err)
	}
}

func TestAPasswordCountsOnlyAfterARightCode(t *testing.T) {
	h := open(t)
	account := h.account("ida", access.Support)
	invitation := h.invite(account)
	begin := func(word string) (*accessv1.Ceremony, error) {
		return h.BeginPassword(t.Context(), &accessv1.BeginPasswordRequest{Account: account, Proof: byInvitation(invitation), Password: word})
	}
	_, err := begin("too short")
	wantReason(t, "a password of nine characters", err, "INVALID_FIELD")
	_, err = begin("the aldermoor works at night")
	wantReason(t, "one with the works' name", err, "INVALID_FIELD")
	begun, err := begin(goodWord)
	if err != nil {
		t.Fatal(err)
	}
	p := &person{h: h, account: account, secret: begun.GetCodeSecret(), word: goodWord}
	_, err = p.signIn(goodWord, p.code())
	wantReason(t, "before the code", err, "SIGN_IN_REFUSED")
	finish := func(code string) error {
		_, err := h.FinishPassword(t.Context(), &accessv1.FinishPasswordRequest{
			Account: account, Proof: byInvitation(invitation), Ceremony: begun.GetCeremony(), Code: code,
		})
		return err
	}
	wantReason(t, "a wrong code", finish("000000"), "INVALID_FIELD")
	wantReason(t, "the right one afterwards", finish(p.code()), "")
	_, err = p.signIn(goodWord, p.code())
	wantReason(t, "the same code to sign in", err, "SIGN_IN_REFUSED")
	p.in()

	everything := h.everything()
	for _, secret := range []string{goodWord, begun.GetCodeSecret(), begun.GetCeremony()[4:]} {
		if strings.Contains(everything, secret) {
			t.Errorf("%q stands in the store", secret)
		}
	}
}

func TestACeremonyEndsWithItsTime(t *testing.T) {
	h := open(t)
	account := h.account("ida", access.Support)
	invitation := h.invite(account)
	begun, err := h.BeginPassword(t.Context(), &accessv1.BeginPasswordRequest{Account: account, Proof: byInvitation(invitation), Password: goodWord})
	if err != nil {
		t.Fatal(err)
	}
	h.Move(15 * time.Minute)
	p := &person{h: h, account: account, secret: begun.GetCodeSecret()}
	_, err = h.FinishPassword(t.Context(), &accessv1.FinishPasswordRequest{
		Account: account, Proof: byInvitation(invitation), Ceremony: begun.GetCeremony(), Code: p.code(),
	})
	wantReason(t, "too late", err, "CEREMONY_OVER")
}
