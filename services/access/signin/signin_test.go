package signin

import (
	"crypto/rand"
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/access"
	"halfshaft/services/fault"
)

var noon = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

func TestASessionEndsWhenItIsIdleAndAtTheLatestAfterTwelveHours(t *testing.T) {
	for _, c := range []struct {
		name string
		role access.Role
		used time.Duration // after the sign-in
		ends time.Duration
	}{
		{"an administrator's, half an hour after the sign-in", access.Administrator, 0, 30 * time.Minute},
		{"an administrator's, half an hour after the last use", access.Administrator, 5 * time.Hour, 5*time.Hour + 30*time.Minute},
		{"support's, eight hours after the sign-in", access.Support, 0, 8 * time.Hour},
		{"an engineer's, after twelve hours though in use", access.Engineer, 11 * time.Hour, 12 * time.Hour},
		{"a dealer's, after twelve hours at the latest", access.Dealer, 5 * time.Hour, 12 * time.Hour},
		{"an administrator's, after twelve hours at the latest", access.Administrator, 11*time.Hour + 50*time.Minute, 12 * time.Hour},
	} {
		s := Session{Created: noon, LastUse: noon.Add(c.used)}
		if got := s.Ends(c.role).Sub(noon); got != c.ends {
			t.Errorf("%s: got %v, want %v", c.name, got, c.ends)
		}
		if !s.Open(c.role, noon.Add(c.ends-1)) || s.Open(c.role, noon.Add(c.ends)) {
			t.Errorf("%s: it is not open up to its end and no longer", c.name)
		}
	}
	s := Session{Created: noon, LastUse: noon}
	if !s.Fresh(noon.Add(15*time.Minute-1)) || s.Fresh(noon.Add(15*time.Minute)) {
		t.Error("fresh is not for a quarter of an hour")
	}
	if s.Touch(noon.Add(time.Minute-1)) || !s.Touch(noon.Add(time.Minute)) {
		t.Error("a use is not written down once a minute")
	}
}

func TestWhoGuessesWaitsLongerAndLonger(t *testing.T) {
	var a Attempts
	now := noon
	var waits []time.Duration
	for range 16 {
		var err error
		a, err = a.Begin(OfAccount, now)
		var f *fault.Error
		if errors.As(err, &f) {
			t.Fatalf("refused though the wait is over: %v", err)
		}
		if _, err := a.Begin(OfAccount, now); a.Open.After(now) != (err != nil) {
			t.Fatalf("after %d failures at once: %v", a.Failures, err)
		}
		waits = append(waits, max(a.Open.Sub(now), 0))
		now = now.Add(max(a.Open.Sub(now), 0))
	}
	for i, w := range waits {
		if i < 5 && w != 0 || i == 5 && w != 15*time.Second || i > 5 && i < 12 && w != min(2*waits[i-1], 15*time.Minute) || w > 15*time.Minute {
			t.Errorf("the waits are %v", waits)
			break
		}
	}
	_, err := a.Begin(OfAccount, a.Open.Add(-time.Second))
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Exhausted || f.RetryAfter != time.Second {
		t.Errorf("a second too early: %v", err)
	}
	if fresh, err := a.Begin(OfAccount, a.Last.Add(ForgetAfter)); err != nil || fresh.Failures != 1 {
		t.Errorf("after a day: %v, %v", fresh, err)
	}
}

// NIST SP 800-63B, section on rate limiting: no more than 100 consecutive
// failed attempts on one account (from memory). Whoever keeps to the waits has
// at most about a hundred tries in the first day.
func TestADayHoldsAboutAHundredGuesses(t *testing.T) {
	var a Attempts
	tries := 0
	for now := noon; now.Before(noon.Add(24 * time.Hour)); tries++ {
		a, _ = a.Begin(OfAccount, now)
		now = now.Add(max(a.Open.Sub(now), time.Millisecond))
	}
	if tries > 110 {
		t.Errorf("%d", tries)
	}
}

func TestUndoingAnAttemptLeavesThoseBeforeIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var a Attempts
		now := noon
		for range rapid.IntRange(0, 60).Draw(t, "failures") {
			a, _ = a.Begin(OfNetwork, now)
			now = now.Add(max(a.Open.Sub(now), 0))
		}
		after, err := a.Begin(OfNetwork, now)
		if err != nil {
			t.Fatal(err)
		}
		if undone := after.Undo(); undone.Failures != a.Failures || now.Before(undone.Open) {
			t.Errorf("from %v by %v to %v", a, after, undone)
		}
	})
}

func TestWhichPasswordsAreTaken(t *testing.T) {
	for _, c := range []struct {
		name, password string
		taken          bool
	}{
		{"several words", "seven pistons in the shed", true},
		{"of twelve characters", "gasket-ovens", true},
		{"of eleven", "gasket-oven", false},
		{"of twelve characters in more bytes", "ßßölkäfigzug", true},
		{"of 128 characters", strings.Repeat("gearboxes7inshed", 8), true},
		{"of 129", strings.Repeat("gearboxes7inshed", 8) + "x", false},
		{"with the account's name in it", "here comes ida again", false},
		{"with the account's name in capitals", "here comes IDA again", false},
		{"with the bearer's surname", "mrs brackenbury drives", false},
		{"with the works' name", "the old aldermoor works", false},
		{"with the works' name taken apart", "alder-moor works song", false},
		{"among the commonest", "correct horse battery staple", false},
		{"a common word with figures", "password123456", false},
		{"a common word twice", "passwordpassword", false},
		{"figures only", "274916358027", false},
		{"a row of the keyboard", "qwertyuiopasdf", false},
		{"one character over and over", "aaaaaaaaaaaaaaa", false},
		{"three characters over and over", "abcabcabcabcabc", false},
		{"not to be read", "gasket\xffovensand", false},
		{"without any rule of composition kept", "shedshedbenchlamp", true},
	} {
		err := CheckPassword("password", c.password, "ida", "Ida Brackenbury", "Aldermoor Works")
		if (err == nil) != c.taken {
			t.Errorf("one %s: %v", c.name, err)
		}
		if err != nil && len(c.password) > 4 && strings.Contains(err.Error(), c.password) {
			t.Errorf("the refusal repeats it: %v", err)
		}
	}
	if err := CheckPassword("password", "a jolly long one", "jo", "", ""); err != nil {
		t.Errorf("two letters of a name are in many words: %v", err)
	}
}

func TestASecretHasItsMarkAndIsKeptByItsDigest(t *testing.T) {
	seen := map[string]bool{}
	for range 500 {
		secret, err := NewSecret(SessionMark, rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		digest, ok := Digest(SessionMark, secret)
		if !ok || len(digest) != 64 || seen[digest] || strings.Contains(digest, secret[8:20]) {
			t.Fatalf("%s, %v", digest, ok)
		}
		seen[digest] = true
		if id := SessionID(digest); !ValidSessionID(id) || !strings.HasPrefix(digest, id) {
			t.Fatalf("the identifier %s", id)
		}
		for _, other := range []string{"", "hss_", secret[1:], secret + "0", strings.Replace(secret, SessionMark, InvitationMark, 1)} {
			if _, ok := Digest(SessionMark, other); ok {
				t.Fatalf("%q passes for a session's secret", other)
			}
		}
	}
	if _, err := NewSecret(SessionMark, strings.NewReader("too little")); err == nil {
		t.Error("a source that runs dry made a secret")
	}
	for _, id := range []string{"", "xyz", strings.Repeat("A", 20), strings.Repeat("0", 64), "../" + strings.Repeat("0", 17)} {
		if ValidSessionID(id) {
			t.Errorf("%q is an identifier", id)
		}
	}
}

func TestARecoveryCodeIsReadAsPeopleWriteIt(t *testing.T) {
	code, err := NewRecoveryCode(strings.NewReader("\x00\x01\x02\x03\x04\x05\x06\x07\x08\x09"))
	if err != nil || code != "000g-40r4-0m30-e209" {
		t.Fatalf("got %s, %v", code, err)
	}
	for _, typed := range []string{code, strings.ToUpper(code), " ooog 4or4 om3o e2o9 ", "000g40r40m30e209"} {
		if got, ok := RecoveryCode(typed); !ok || got != "000g40r40m30e209" {
			t.Errorf("%q: got %q, %v", typed, got, ok)
		}
	}
	for _, typed := range []string{"", "123456", code + "0", "000g-40r4-0m30-e20u"} {
		if got, ok := RecoveryCode(typed); ok {
			t.Errorf("%q reads as %q", typed, got)
		}
	}
}
