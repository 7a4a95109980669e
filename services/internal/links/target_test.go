package links

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// purposes are all purposes with the numbers that stand in mails already sent.
var purposes = map[Purpose]byte{
	Odometer: 'o', Unsubscribe: 'u', Schedule: 's', Booked: 'b', Snooze: 'z', Done: 'd',
	Transfer: 't', StopYearLetter: 'y', Calendar: 'c', Handbook: 'h', History: 'w', People: 'p',
}

func TestThePurposesStayWhatTheyWereInMailsAlreadySent(t *testing.T) {
	seen := map[byte]bool{}
	for purpose, number := range purposes {
		if byte(purpose) != number || seen[number] {
			t.Errorf("purpose %c: want %c, once", purpose, number)
		}
		seen[number] = true
		token, err := ring(1).Token(Link{purpose, "AM0147P.p0031", now.Add(time.Hour)}, Nonce{})
		if err != nil {
			t.Fatal(err)
		}
		if l, err := ring(1).Read(token, now); err != nil || l.Purpose != purpose {
			t.Errorf("purpose %c reads as %c, %v", purpose, l.Purpose, err)
		}
	}
}

func TestATargetReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := Target{
			Serial: rapid.StringMatching(`[A-Z][A-Z0-9]{3,12}[A-Z0-9*]`).Draw(t, "serial"),
			Person: rapid.StringMatching(`[a-z0-9-]{1,40}`).Draw(t, "person"),
			Epoch:  rapid.IntRange(0, 1<<31).Draw(t, "epoch"),
			Notice: rapid.StringMatching(`([A-Z][0-9]{2}\.2026-05-01\.(due|early)\.mail\.p0031(\.2)?)?`).Draw(t, "notice"),
		}
		if got, ok := (Link{Subject: want.Subject()}).Target(); !ok || got != want {
			t.Fatalf("%q reads as %+v, %t; want %+v", want.Subject(), got, ok, want)
		}
	})
}

func TestATargetOfMailsOfBeforeThereWereEpochs(t *testing.T) {
	got, ok := Link{Subject: "AM0147P.p0031"}.Target()
	if want := (Target{Serial: "AM0147P", Person: "p0031"}); !ok || got != want {
		t.Errorf("got %+v, %t; want %+v", got, ok, want)
	}
}

func TestWhatIsNoTarget(t *testing.T) {
	for _, subject := range []string{
		"", "AM0147P", ".p0031", "AM0147P.", ".", "AM0147P.p0031.3", "AM0147P.p0031.x.E01", "AM0147P.p0031..E01",
		"AM0147P.p0031.-1.E01", ".p0031.0.E01", "AM0147P..0.E01", "AM0147P.p0031.99999999999999999999.E01",
	} {
		if got, ok := (Link{Subject: subject}).Target(); ok {
			t.Errorf("%q reads as %+v", subject, got)
		}
	}
}

// The longest serial, a person's identifier and the longest notice fit.
func TestALongTargetFitsIntoALink(t *testing.T) {
	target := Target{Serial: "AM01234567890P", Person: "0192f0c45a4e", Epoch: 12, Notice: "RECOMMISSION-9.2026-05-01.second-overdue.letter.0192f0c45a4e.12"}
	if _, err := ring(1).Token(Link{Booked, target.Subject(), now.Add(time.Hour)}, Nonce{}); err != nil {
		t.Errorf("%d bytes: %v", len(target.Subject()), err)
	}
}

func FuzzTarget(f *testing.F) {
	for _, subject := range []string{"AM0147P.p0031", "AM0147P.p0031.3.E01.2026-05-01.due.mail.p0031", "..", "a.b.0.", "a.b.+1.x", "a.b.01.x"} {
		f.Add(subject)
	}
	f.Fuzz(func(t *testing.T, subject string) {
		target, ok := Link{Subject: subject}.Target()
		if ok && target.Subject() != subject {
			// A link's subject is compared as it stands, so one target has one.
			t.Errorf("%q and %q are one target", subject, target.Subject())
		}
	})
}

// FuzzToken changes a token of each purpose; nothing but the token itself is
// accepted.
func FuzzToken(f *testing.F) {
	genuine := map[string]bool{}
	for purpose := range purposes {
		token, err := ring(1).Token(Link{purpose, Target{"AM0147P", "p0031", 2, "E01.2026-05-01.due.mail.p0031"}.Subject(), now}, Nonce{1})
		if err != nil {
			f.Fatal(err)
		}
		genuine[token] = true
		f.Add(token)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l, err := ring(1).Read(text, now.Add(-time.Hour))
		if (err == nil) != genuine[text] {
			t.Errorf("%q reads as %v, %v", text, l, err)
		}
		if err != nil && (!errors.Is(err, ErrForged) || fmt.Sprint(l) != fmt.Sprint(Link{})) {
			t.Errorf("%q: %v, %v", text, l, err)
		}
	})
}
