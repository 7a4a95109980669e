package accesssignin_test

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

func TestWhoIsNotLetInIsToldTheSameWhateverWasWrong(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	closed := h.staff("bert", access.Support)
	h.close("bert", true)
	passkeyOnly := &person{h: h, account: h.account("cora", access.Support), secret: p.secret, word: goodWord}
	h.Move(30 * time.Second)
	says := func(code string) func() string { return func() string { return code } }
	var want string
	for _, c := range []struct {
		name string
		who  *person
		word string
		code func() string // of the moment at which it is shown
	}{
		{"a wrong password", p, "eight pistons in the shed", p.code},
		{"no password", p, "", p.code},
		{"a password without end", p, strings.Repeat(goodWord, 1000), p.code},
		{"a wrong code", p, goodWord, says("123456")},
		{"no code", p, goodWord, says("")},
		{"a closed account", closed, closed.word, closed.code},
		{"an account without a password", passkeyOnly, goodWord, passkeyOnly.code},
		{"an unknown account", &person{h: h, account: "accounts/nobody"}, goodWord, says("123456")},
		{"a name that is none", &person{h: h, account: "accounts/Not A Name!"}, goodWord, says("123456")},
	} {
		_, err := c.who.signIn(c.word, c.code())
		f := wantReason(t, c.name, err, "SIGN_IN_REFUSED")
		if f == nil {
			continue
		}
		if got := fmt.Sprintf("%v %v %v %v", f.Kind, f.Message, f.Fields, f.Meta); want == "" {
			want = got
		} else if got != want {
			t.Errorf("%s: got %s, want %s", c.name, got, want)
		}
		h.Move(16 * time.Minute) // the network's and the account's wait
	}
	h.Move(24 * time.Hour)
	p.in()
}

func TestACodeCountsOnceAlsoForTwoWhoShowItAtOnce(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	h.Move(time.Minute)
	code := p.code()
	var let atomic.Int32
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			if _, err := p.signIn(goodWord, code); err == nil {
				let.Add(1)
			}
		})
	}
	all.Wait()
	if let.Load() != 1 {
		t.Errorf("%d came in by one code", let.Load())
	}
}

func TestARecoveryCodeStandsInOnce(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	if len(p.codes) != 10 {
		t.Fatalf("got %v", p.codes)
	}
	h.Move(time.Minute)
	if _, err := p.signIn(goodWord, strings.ToUpper(p.codes[3])); err != nil {
		t.Fatal(err)
	}
	_, err := p.signIn(goodWord, p.codes[3])
	wantReason(t, "a second time", err, "SIGN_IN_REFUSED")
	ways, err := h.GetSignInWays(t.Context(), &accessv1.GetSignInWaysRequest{Account: p.account})
	if err != nil || ways.GetRecoveryCodes() != 9 || !ways.GetPassword() {
		t.Errorf("got %v, %v", ways, err)
	}
	grant := p.in()
	made, err := h.CreateRecoveryCodes(t.Context(), &accessv1.CreateRecoveryCodesRequest{Account: p.account, Session: grant.GetSecret()})
	if err != nil || len(made.GetRecoveryCodes()) != 10 {
		t.Fatalf("got %v, %v", made, err)
	}
	_, err = p.signIn(goodWord, p.codes[4])
	wantReason(t, "one of the former", err, "SIGN_IN_REFUSED")
	if _, err := p.signIn(goodWord, made.GetRecoveryCodes()[9]); err != nil {
		t.Errorf("a fresh one: %v", err)
	}
	if strings.Contains(h.everything(), strings.ReplaceAll(p.codes[5], "-", "")) {
		t.Error("a recovery code stands in the store")
	}
}

func TestWhoGuessesAtOneAccountWaitsAndARestartDoesNotForget(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	h.Move(time.Minute)
	network := 0
	guess := func() error { // each from another network, as many machines would
		network++
		_, err := h.SignIn(t.Context(), &accessv1.SignInRequest{
			Account: p.account, Password: "wrong", Code: "000000", Network: fmt.Sprintf("198.51.100.%d", network),
		})
		return err
	}
	for n := range 6 {
		wantReason(t, fmt.Sprintf("guess %d", n+1), guess(), "SIGN_IN_REFUSED")
	}
	h.start() // another process
	err := guess()
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Exhausted || f.Reason != "SIGN_IN_TOO_OFTEN" || f.RetryAfter != 15*time.Second {
		t.Fatalf("the seventh: %v", err)
	}
	_, err = p.signIn(goodWord, p.code())
	wantReason(t, "the right one meanwhile: it is not even looked at", err, "SIGN_IN_TOO_OFTEN")
	h.Move(f.RetryAfter)
	wantReason(t, "a guess after the wait", guess(), "SIGN_IN_REFUSED")
	err = guess()
	if !errors.As(err, &f) || f.RetryAfter != 30*time.Second {
		t.Errorf("the next wait: %v", err)
	}
	h.Move(30 * time.Second)
	if _, err := p.signIn(goodWord, p.code()); err != nil {
		t.Fatalf("the right one after the wait: %v", err)
	}
	wantReason(t, "a guess after a success is the first again", guess(), "SIGN_IN_REFUSED")
	wantReason(t, "and the next has no wait", guess(), "SIGN_IN_REFUSED")
}

func TestWhoGuessesFromOneNetworkWaits(t *testing.T) {
	h := open(t)
	own := h.staff("ida", access.Support)
	h.Move(time.Minute)
	guess := func(n int) error {
		_, err := h.SignIn(t.Context(), &accessv1.SignInRequest{
			Account: fmt.Sprintf("accounts/x%d", n), Password: "wrong", Code: "000000", Network: "192.0.2.1",
		})
		return err
	}
	for n := range 20 {
		wantReason(t, "a guess", guess(n), "SIGN_IN_REFUSED")
		if n == 10 {
			// A success of one's own does not wash guesses at others away.
			if _, err := own.signIn(goodWord, own.code()); err != nil {
				t.Fatal(err)
			}
		}
	}
	wantReason(t, "the last that costs a wait", guess(20), "SIGN_IN_REFUSED")
	wantReason(t, "the next", guess(21), "SIGN_IN_TOO_OFTEN")
	_, err := h.SignIn(t.Context(), &accessv1.SignInRequest{Account: "accounts/x", Password: "wrong", Code: "0", Network: "192.0.2.2"})
	wantReason(t, "from another network", err, "SIGN_IN_REFUSED")
	if strings.Contains(h.everything(), "192.0.2.2") {
		t.Error("the network of a refused guess stands in the store")
	}
}

func TestAHundredGuessesAtOnceAreNotAllTheFirst(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	h.Move(time.Minute)
	var looked atomic.Int32
	var all sync.WaitGroup
	for n := range 30 {
		all.Go(func() {
			_, err := h.SignIn(t.Context(), &accessv1.SignInRequest{
				Account: p.account, Password: "wrong", Code: "000000", Network: fmt.Sprintf("203.0.113.%d", n),
			})
			if f, ok := err.(*fault.Error); ok && f.Reason == "SIGN_IN_REFUSED" {
				looked.Add(1)
			}
		})
	}
	all.Wait()
	if looked.Load() > 6 {
		t.Errorf("%d were looked at", looked.Load())
	}
}

func TestChangingThePasswordNeedsTheOldOneAndEndsAllOtherSessions(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	here, there := p.in(), p.in()
	other := h.staff("bert", access.Support)
	const next = "nine pistons in the shed"
	change := func(current, word string, by *accessv1.SessionGrant) error {
		_, err := h.ChangePassword(t.Context(), &accessv1.ChangePasswordRequest{
			Account: p.account, Session: by.GetSecret(), Current: current, Password: word, Network: "192.0.2.1",
		})
		return err
	}
	wantReason(t, "a wrong current one", change("wrong", next, here), "INVALID_FIELD")
	wantReason(t, "a new one that is too short", change(goodWord, "short", here), "INVALID_FIELD")
	wantReason(t, "by somebody else's session", change(goodWord, next, other.session), "SESSION_OVER")
	wantReason(t, "right", change(goodWord, next, here), "")
	wantReason(t, "the session it was done in", h.check(here), "")
	wantReason(t, "another of the same account", h.check(there), "SESSION_OVER")
	wantReason(t, "somebody else's", h.check(other.session), "")
	h.Move(time.Minute)
	_, err := p.signIn(goodWord, p.code())
	wantReason(t, "signing in with the old one", err, "SIGN_IN_REFUSED")
	p.word = next
	p.in()
}
