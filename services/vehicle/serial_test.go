package vehicle_test

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestASerialIsReadHoweverItIsWritten(t *testing.T) {
	for name, text := range map[string]string{
		"canonical":                        "AM0147P",
		"lower case":                       "am0147p",
		"spaces":                           " AM 0147 P ",
		"hyphens":                          "AM-0147-P",
		"dots":                             "AM.0147.P",
		"slashes":                          "AM/0147/P",
		"en dash":                          "AM\u20130147\u2013P",
		"em dash":                          "AM\u20140147P",
		"non-breaking hyphen":              "AM\u20110147P",
		"minus sign":                       "AM\u22120147P",
		"full-width hyphen":                "AM\uff0d0147P",
		"soft hyphen":                      "AM\u00ad0147P",
		"non-breaking space":               "AM\u00a00147P",
		"narrow no-break space":            "AM\u202f0147P",
		"byte order mark from a file":      "\ufeffAM0147P",
		"zero-width space":                 "AM\u200b0147P",
		"tab and line end from a sheet":    "AM0147P\t\r\n",
		"a separator after each character": "A-M-0-1-4-7-P-",
	} {
		if got, err := vehicle.ParseSerial(text); err != nil || got != "AM0147P" {
			t.Errorf("%s: ParseSerial(%q) = %q, %v", name, text, got, err)
		}
	}
}

func TestAWrongCheckCharacterIsSaidWithWhatWasHeard(t *testing.T) {
	for _, c := range []struct{ text, message string }{
		{"am-0147-q", "heard AM0147Q, but Q is not its check character: the one of AM0147 is P"},
		{"AM0147O", "heard AM0147O, but O is not its check character: the one of AM0147 is P"},
		{"AM0147*", "heard AM0147*, but * is not its check character: the one of AM0147 is P"},
	} {
		_, err := vehicle.ParseSerial(c.text)
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Invalid || f.Reason != "SERIAL_CHECK" {
			t.Errorf("ParseSerial(%q): %#v, want an Invalid fault SERIAL_CHECK", c.text, err)
			continue
		}
		if f.Message != c.message || f.Meta["check"] != "P" {
			t.Errorf("ParseSerial(%q) says %q %v, want %q", c.text, f.Message, f.Meta, c.message)
		}
	}
}

func TestTheRefusalOfASerialNamesNoOtherVehicle(t *testing.T) {
	// O for 0: every candidate but what was heard must be kept back, for the
	// refusal may reach somebody who may not know of that vehicle.
	_, err := vehicle.ParseSerial("AMO147P")
	if err == nil || strings.Contains(err.Error(), "AM0147P") {
		t.Errorf("the refusal is %v", err)
	}
}

func TestWhatIsNoSerialIsRefusedForItsForm(t *testing.T) {
	body := "AAA"
	for vehicle.Issuable(body) { // the first of AAA, AAB, ... that is not issued
		body = body[:2] + string(rune(body[2]+1))
	}
	check, err := vehicle.CheckCharacter(body)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"nothing":                        "",
		"only separators":                " - ",
		"too short":                      "AMP",
		"too long":                       "ABCDEFGHIJKLMN",
		"a digit first":                  "1234ABCDV",
		"a star inside":                  "AM*147P",
		"a sign":                         "AM+0147P",
		"a letter of another alphabet":   "\u0410M0147P", // Cyrillic A
		"a digit of another script":      "AM\u0660147P",
		"a control character":            "AM0147P\x00",
		"broken UTF-8":                   "AM0147P\xff",
		"a flood":                        strings.Repeat(" ", 1000) + "AM0147P",
		"a check character never issued": body + string(rune(check)),
	} {
		got, err := vehicle.ParseSerial(text)
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Invalid || f.Reason != "SERIAL_FORM" || got != "" {
			t.Errorf("%s: ParseSerial(%q) = %q, %v; want an Invalid fault SERIAL_FORM", name, text, got, err)
		}
	}
}

func TestAnIssuedSerialIsReadBackFromAnyWriting(t *testing.T) {
	separators := rapid.SampledFrom([]string{"", "", " ", "-", ".", "/", "\u2013", "\u00a0"})
	rapid.Check(t, func(t *rapid.T) {
		serial := serials().Draw(t, "serial")
		var written strings.Builder
		for _, c := range string(serial) {
			text := string(c)
			if rapid.Bool().Draw(t, "lower") {
				text = strings.ToLower(text)
			}
			written.WriteString(text + separators.Draw(t, "separator"))
		}
		got, err := vehicle.ParseSerial(written.String())
		if err != nil || got != serial || !got.Valid() {
			t.Fatalf("ParseSerial(%q) = %q, %v; want %q", written.String(), got, err, serial)
		}
		if back, err := vehicle.NewSerial(got.Body()); err != nil || back != serial || got.Check() != serial[len(serial)-1] {
			t.Fatalf("body %q and check %c of %q", got.Body(), got.Check(), got)
		}
	})
}

func TestASerialIsSpelledForTheTelephone(t *testing.T) {
	for serial, want := range map[vehicle.Serial]string{
		"AM0147P": "Alfa Mike zero one four seven Papa",
		"XO0":     "X-ray Oscar zero",
		"":        "",
	} {
		if got := serial.Spoken(); got != want {
			t.Errorf("%q is spoken %q, want %q", serial, got, want)
		}
	}
}

func TestTheEmptySerialHasNeitherBodyNorCheck(t *testing.T) {
	var none vehicle.Serial
	if none.Body() != "" || none.Check() != 0 || none.Valid() {
		t.Errorf("body %q, check %d, valid %v", none.Body(), none.Check(), none.Valid())
	}
}

func TestReadingASerialAllocatesLittle(t *testing.T) {
	for text, most := range map[string]float64{"AM0147P": 0, "am-0147-p": 1} {
		if n := testing.AllocsPerRun(100, func() { _, _ = vehicle.ParseSerial(text) }); n > most {
			t.Errorf("ParseSerial(%q) makes %v allocations, want %v at most", text, n, most)
		}
	}
}

func FuzzParseSerial(f *testing.F) {
	for _, seed := range []string{
		"AM0147P", "am-0147-p", "AM 0147 Q", "AMO147P", "", "*", "AM0147*", "1234ABCDV",
		"AM\u20130147P", "\ufeffAM0147P", "AM\xff0147P", strings.Repeat("A", 200), "ABCDEFGHIJKL0",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		serial, err := vehicle.ParseSerial(text)
		if err != nil {
			if !fault.Is(err, fault.Invalid) || serial != "" || err.Error() == "" {
				t.Fatalf("ParseSerial(%q) = %q, %v", text, serial, err)
			}
			vehicle.Slips(text) // must come to an end
			return
		}
		if !serial.Valid() {
			t.Fatalf("ParseSerial(%q) = %q, which is not valid", text, serial)
		}
		if again, err := vehicle.ParseSerial(string(serial)); err != nil || again != serial {
			t.Fatalf("%q is read back as %q, %v", serial, again, err)
		}
	})
}

func BenchmarkParseSerial(b *testing.B) {
	for name, text := range map[string]string{"canonical": "AM0147P", "dictated": "am-0147-p"} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := vehicle.ParseSerial(text); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
