package ownerrpc

import (
	"net/mail"
	"regexp"
	"strings"
	"testing"

	"github.com/nyaruka/phonenumbers"
)

func TestAMailboxIsOneAddressThatMailCanBeSentTo(t *testing.T) {
	local64, local65 := strings.Repeat("a", 64), strings.Repeat("a", 65)
	label := strings.Repeat("d", 63)
	domain189 := label + "." + label + "." + label[:61]
	for _, c := range []struct {
		name, text string
		want       bool
	}{
		{"plain", "ada@nettlefold.example", true},
		{"with dots, plus and hyphen", "ada.b+works@fine-forge.nettlefold.example", true},
		{"all that an atom may hold (RFC 5322, 3.2.3)", "!#$%&'*+-/=?^_`{|}~@x.example", true},
		{"a quoted local part (RFC 5321, 4.1.2)", `"ada b"@x.example`, true},
		{"quoted without need", `"ada"@x.example`, true},
		{"a quoted @ and a quoted dot at the end", `"a@b."@x.example`, true},
		{"a quoted quote and backslash (quoted-pairSMTP)", `"a\"b\\"@x.example`, true},
		{"a bare quote within quotes", `"a"b"@x.example`, false},
		{"a backslash before the last quote", `"a\"@x.example`, false},
		{"a quote that is not closed", `"ada@x.example`, false},
		{"half quoted", `"ada".b@x.example`, false},
		{"nothing within quotes", `""@x.example`, false},
		{"64 octets with the quotes", `"` + strings.Repeat("a", 62) + `"@x.example`, true},
		{"65 octets with the quotes", `"` + strings.Repeat("a", 63) + `"@x.example`, false},
		{"a control within quotes", "\"a\tb\"@x.example", false},
		{"a dot in front", ".ada@x.example", false},
		{"a dot before the @", "ada.@x.example", false},
		{"a last label of digits alone (RFC 1123, 2.1)", "ada@x.123", false},
		{"an IPv4 address without brackets", "ada@192.0.2.1", false},
		{"an international domain in its ASCII form", "ada@xn--bcher-kva.example", true},
		{"64 octets before the @ (RFC 5321, 4.5.3.1.1)", local64 + "@x.example", true},
		{"65 octets before the @", local65 + "@x.example", false},
		{"254 octets in all (RFC 5321, 4.5.3.1.3, less the brackets)", local64 + "@" + domain189, true},
		{"255 octets in all", local64 + "@" + domain189 + "d", false},
		{"a label of 63 (RFC 1035, 2.3.4)", "a@" + strings.Repeat("d", 63) + ".example", true},
		{"a label of 64", "a@" + strings.Repeat("d", 64) + ".example", false},
		{"no domain", "ada@", false},
		{"no local part", "@x.example", false},
		{"no @", "ada.x.example", false},
		{"two @", "ada@b@x.example", false},
		{"a name beside it", "Ada <ada@x.example>", false},
		{"brackets", "<ada@x.example>", false},
		{"a comment", "ada@x.example (home)", false},
		{"two addresses", "ada@x.example, b@x.example", false},
		{"a group", "g: ada@x.example;", false},
		{"a space before", " ada@x.example", false},
		{"a space after", "ada@x.example ", false},
		{"a header after a line break", "ada@x.example\r\nBcc: b@x.example", false},
		{"a bare line feed", "ada@x.example\n", false},
		{"a line break folded in", "ada@\r\n x.example", false},
		{"a tab", "ada\t@x.example", false},
		{"a null", "ada\x00@x.example", false},
		{"a letter beyond ASCII", "adä@x.example", false},
		{"a domain beyond ASCII", "ada@bücher.example", false},
		{"an address literal", "ada@[192.0.2.1]", false},
		{"two dots", "ada..b@x.example", false},
		{"an empty label", "ada@x..example", false},
		{"a dot at the end", "ada@x.example.", false},
		{"a hyphen at a label's end", "ada@x-.example", false},
		{"an underscore in the domain", "ada@x_y.example", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := validMailbox(c.text); got != c.want {
				t.Errorf("%q: got %v, want %v", c.text, got, c.want)
			}
		})
	}
}

var unquoted = regexp.MustCompile(`\\(.)`)

func FuzzMailbox(f *testing.F) {
	for _, seed := range []string{"ada@x.example", `"a\"\\b."@x.example`, `"a b"@x.example`, "Ada <a@x.example>", "a@b\r\nBcc: c@d.example", "=?utf-8?q?a?= <a@b>"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if !validMailbox(text) {
			return
		}
		if strings.ContainsAny(text, "\r\n\x00") || len(text) > 254 {
			t.Fatalf("%q passed", text)
		}
		// In a header it stays one address, and the same.
		list, err := mail.ParseAddressList("Works <works@aldermoor.example>, <" + text + ">")
		if err != nil || len(list) != 2 {
			t.Fatalf("%q reads as %v, %v", text, list, err)
		}
		// net/mail takes quotes off where they are not needed.
		local, domain := text[:strings.LastIndexByte(text, '@')], text[strings.LastIndexByte(text, '@'):]
		if local[0] == '"' {
			local = unquoted.ReplaceAllString(local[1:len(local)-1], "$1")
		}
		if list[1].Address != local+domain {
			t.Fatalf("%q reads as %q", text, list[1].Address)
		}
	})
}

func TestAPhoneNumberIsPossibleAndInE164(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       bool
	}{
		// checks.md O-49: ITU-T E.164; libphonenumber's README for the Swiss one.
		{"O-49, Switzerland", "+41446681800", true},
		{"O-49, United States, fiction", "+12025550143", true},
		{"O-49, London, fiction", "+442079460018", true},
		{"O-49, fiction range, possible and not valid", "+441632960983", true},
		{"as dialled", "020 7946 0018", false},
		{"with the prefix of another country's exchange", "00441632960983", false},
		{"with spaces", "+44 1632 960983", false},
		{"O-49, with an extension", "+19025550123 ext. 42", false},
		{"as a link", "tel:+19025550123", false},
		{"too short", "+4416", false},
		{"too long (more than the 15 digits of E.164)", "+4416329609831234567", false},
		{"an unknown country", "+9991632960983", false},
		{"full-width digits", "+４４1632960983", false},
		{"a line break", "+441632960983\n", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := possiblePhone(c.text); got != c.want {
				t.Errorf("%q: got %v, want %v", c.text, got, c.want)
			}
		})
	}
}

// checks.md O-49 as people dial and write them: what libphonenumber makes of each
// is taken, and what was dialled is not, since it means a number only in one
// country.
func TestANumberIsTakenInTheFormThatMeansTheSameEverywhere(t *testing.T) {
	for _, c := range []struct{ dialled, country, want string }{
		{"044 668 18 00", "CH", "+41446681800"},
		{"(202) 555-0143", "US", "+12025550143"},
		{"020 7946 0018", "GB", "+442079460018"},
		{"00 44 1632 960983", "FR", "+441632960983"},
		{"+1 (902) 555-0123 ext. 42", "CA", "+19025550123"},
	} {
		n, err := phonenumbers.Parse(c.dialled, c.country)
		if err != nil {
			t.Fatal(err)
		}
		if got := phonenumbers.Format(n, phonenumbers.E164); got != c.want || !possiblePhone(got) || possiblePhone(c.dialled) {
			t.Errorf("%s in %s: got %s, taken %v; as dialled %v", c.dialled, c.country, got, possiblePhone(got), possiblePhone(c.dialled))
		}
	}
}

func TestZonesAndLanguagesAreKnownOnes(t *testing.T) {
	for name, want := range map[string]bool{
		"Europe/London": true, "America/New_York": true, "Asia/Kolkata": true, "UTC": true,
		"Local": false, "Europe/Aldermoor": false, "../etc/passwd": false, "/etc/localtime": false, "Europe/London\n": false,
	} {
		if got := knownZone(name); got != want {
			t.Errorf("zone %q: got %v", name, got)
		}
	}
	for tag, want := range map[string]bool{
		// RFC 5646 appendix A (from memory): simple, with region, with script.
		"de": true, "en-GB": true, "zh-Hant": true, "sr-Latn-RS": true, "fr-CA": true,
		"english": false, "e": false, "en_": false, "xx-XX": false, "en-GB\r\n": false,
	} {
		if got := knownLanguage(tag); got != want {
			t.Errorf("language %q: got %v", tag, got)
		}
	}
}
