package accessgate

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/access"
)

// drawCaller draws somebody there can be.
func drawCaller(t *rapid.T) access.Caller {
	c := access.Caller{
		Role:       rapid.SampledFrom(access.AllRoles()).Draw(t, "role"),
		Bearer:     rapid.StringN(0, 20, 120).Filter(func(s string) bool { return conceivable(access.Caller{Bearer: s}) }).Draw(t, "bearer"),
		Credential: rapid.SampledFrom([]string{"", "link", "socket", "process", "keys/0123abcd", "sessions/0192f0"}).Draw(t, "credential"),
	}
	switch c.Role {
	case access.Owner:
		c.Person = "people/" + rapid.StringMatching(`[!-.0-~]{1,30}`).Draw(t, "person")
	case access.Dealer:
		c.Organisation = "organisations/" + rapid.StringMatching(`[a-z][a-z0-9-]{2,39}`).Draw(t, "organisation")
		fallthrough
	case access.Support, access.Engineer, access.Administrator:
		c.Account = rapid.SampledFrom([]string{"", "accounts/ida", "accounts/j.b-2"}).Draw(t, "account")
	}
	return c
}

func TestACallerSurvivesTheHeader(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawCaller(t)
		text := encode(want)
		if strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r > '~' }) {
			t.Fatalf("%q is no header", text)
		}
		if got, err := decode(text); err != nil || got != want {
			t.Fatalf("got %+v, %v; want %+v", got, err, want)
		}
	})
}

func TestACallerWhoCannotBeIsRefused(t *testing.T) {
	for name, text := range map[string]string{
		"as it was before organisations":   "support desk ",
		"a part too many":                  "support desk     x",
		"no role":                          " desk    ",
		"nobody":                           "nobody desk    ",
		"a role in another spelling":       "Support desk    ",
		"a bearer escaped in another way":  "support %64esk    ",
		"a bearer with a line break":       "support a%0Ab    ",
		"a bearer that is no text":         "support %FF    ",
		"a bearer that is too long":        "support " + strings.Repeat("x", 121) + "    ",
		"an escape that is none":           "support %zz    ",
		"an engineer who is a person":      "engineer x people%2Fp1   ",
		"a dealer who is a person":         "dealer x people%2Fp1 organisations%2Fferncombe  ",
		"an owner who is a vehicle":        "owner owner vehicles%2FAM0147P   ",
		"an owner who is two people":       "owner owner people%2Fp1%2Fp2   ",
		"an owner of an organisation":      "owner owner people%2Fp1 organisations%2Fferncombe  ",
		"support staff of an organisation": "support x  organisations%2Fferncombe  ",
		"an organisation that cannot be":   "dealer x  organisations%2F-  ",
		"a service with an account":        "service x   accounts%2Fida ",
		"an owner with an account":         "owner owner people%2Fp1  accounts%2Fida ",
		"an account that cannot be":        "support x   accounts%2FIDA ",
		"a credential that is a sentence":  "support x    a+key",
		"a credential with an empty part":  "support x    keys%2F%2Fx",
	} {
		if c, err := decode(text); err == nil {
			t.Errorf("%s: %q gave %+v", name, text, c)
		}
	}
}

func FuzzCallerHeader(f *testing.F) {
	for _, seed := range []string{
		"support front+desk    ", "owner owner people%2Fp1   link", "dealer hal  organisations%2Fferncombe accounts%2Fhal sessions%2F0192f0",
		"", "a b c d e f", "owner %zz x   ", "nobody a b   ",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		c, err := decode(text)
		if err != nil {
			if c != (access.Caller{}) {
				t.Errorf("%q was refused and gave %+v", text, c)
			}
			return
		}
		if !c.Role.Valid() || encode(c) != text {
			t.Errorf("%q gave %+v", text, c)
		}
		if c.Person != "" && c.Role != access.Owner || c.Organisation != "" && c.Role != access.Dealer {
			t.Errorf("%q gave %+v, who cannot be", text, c)
		}
	})
}
