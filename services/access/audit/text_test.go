package audit

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

var march = time.Date(2026, time.March, 3, 10, 15, 7, 123456789, time.UTC)

func amended() Line {
	return Line{
		Time: march, Actor: "front desk", Role: access.Support, Credential: "keys/0badcafe",
		Method: "/halfshaft.build.v1.BuildService/AmendBuild", Objects: []string{"builds/AM0147P"}, Outcome: Changed,
		Because: "the owner read <S2> & not S1", Network: "192.0.2.17",
	}
}

func TestALineIsOneJSONObjectInAFixedOrder(t *testing.T) {
	for name, c := range map[string]struct {
		line Line
		want string
	}{
		"a change": {amended(), `{"time":"2026-03-03T10:15:07.123456Z","actor":"front desk","role":"support","credential":"keys/0badcafe",` +
			`"method":"/halfshaft.build.v1.BuildService/AmendBuild","objects":["builds/AM0147P"],"outcome":"changed",` +
			`"because":"the owner read <S2> & not S1","network":"192.0.2.17"}`},
		"a change of fields": {
			Line{Time: march, Role: access.Administrator, Method: "/x/Y", Objects: []string{"accounts/sue"}, Fields: []string{"role", "closed"}, Outcome: Changed},
			`{"time":"2026-03-03T10:15:07.123456Z","role":"administrator","method":"/x/Y","objects":["accounts/sue"],"fields":["role","closed"],"outcome":"changed"}`},
		"a refusal of somebody unknown, 17 times": {
			Line{Time: march, Method: "/x/Y", Outcome: Refused, ErrorReason: "KEY_UNKNOWN", Network: "2001:db8:1:2::/64", Count: 17},
			`{"time":"2026-03-03T10:15:07.123456Z","role":"nobody","method":"/x/Y","outcome":"refused","error_reason":"KEY_UNKNOWN",` +
				`"network":"2001:db8:1:2::/64","count":17}`},
		"another zone is told in UTC": {
			Line{Time: time.Date(2026, 3, 3, 12, 0, 0, 0, time.FixedZone("", 7200)), Role: access.Owner, Party: "people/p0031", Through: "halfshaft", Outcome: Read},
			`{"time":"2026-03-03T10:00:00.000000Z","role":"owner","party":"people/p0031","through":"halfshaft","method":"","outcome":"read"}`},
		"a line break stays one line": {
			Line{Time: march, Because: "one\ntwo", Outcome: Unchanged},
			`{"time":"2026-03-03T10:15:07.123456Z","role":"nobody","method":"","outcome":"unchanged","because":"one\ntwo"}`},
	} {
		t.Run(name, func(t *testing.T) {
			if got := c.line.Text(); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
			back, err := Parse(c.want)
			if err != nil || back.Text() != c.want {
				t.Errorf("read back: %+v, %v", back, err)
			}
		})
	}
}

func TestOnlyTheCanonicalTextIsRead(t *testing.T) {
	good := amended().Text()
	for name, text := range map[string]string{
		"nothing":              "",
		"no object":            `"x"`,
		"something behind it":  good + " ",
		"two lines":            good + good,
		"a space":              strings.Replace(good, ",", ", ", 1),
		"an unknown field":     strings.Replace(good, `{`, `{"x":1,`, 1),
		"an empty field":       strings.Replace(good, `,"objects"`, `,"party":"","objects"`, 1),
		"another order":        `{"role":"support",` + strings.Replace(good[1:], `"role":"support",`, "", 1),
		"an escape too many":   strings.Replace(good, "<", `\u003c`, 1),
		"a count of one":       strings.TrimSuffix(good, "}") + `,"count":1}`,
		"a time with no digit": strings.Replace(good, ".123456", "", 1),
		"a time in a zone":     strings.Replace(good, "123456Z", "123456+00:00", 1),
		"an unknown outcome":   strings.Replace(good, `"changed"`, `"altered"`, 1),
		"an unknown role":      strings.Replace(good, `"support"`, `"helper"`, 1),
		"a role in capitals":   strings.Replace(good, `"support"`, `"Support"`, 1),
		"a field twice":        strings.Replace(good, `{`, `{"actor":"a",`, 1),
	} {
		t.Run(name, func(t *testing.T) {
			if l, err := Parse(text); !fault.Is(err, fault.Invalid) {
				t.Errorf("got %+v, %v; want a refusal", l, err)
			}
		})
	}
}

func TestALineIsCutWhereItIsTooLong(t *testing.T) {
	l := amended()
	l.Because = strings.Repeat("ü", 2000)
	l.Actor = strings.Repeat("x", maxActor+1)
	l.Objects = nil
	for i := range 50 {
		l.Objects = append(l.Objects, "builds/AM0147P", strings.Repeat("o", i+1))
	}
	back, err := Parse(l.Text())
	if err != nil {
		t.Fatal(err)
	}
	if len(back.Because) > maxBecause || !strings.HasSuffix(back.Because, "ü…") || len(back.Actor) != maxActor ||
		len(back.Objects) != MaxObjects || back.Objects[1] == back.Objects[2] {
		t.Errorf("got %+v", back)
	}
}

func lines() *rapid.Generator[Line] {
	word := rapid.OneOf(rapid.Just(""), rapid.String(), rapid.StringN(0, 400, -1))
	return rapid.Custom(func(t *rapid.T) Line {
		return Line{
			Time:  time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "second"), rapid.Int64Range(0, 1e9).Draw(t, "nanosecond")),
			Actor: word.Draw(t, "actor"), Role: access.Role(rapid.IntRange(0, 6).Draw(t, "role")),
			Credential: word.Draw(t, "credential"), Party: word.Draw(t, "party"), Through: word.Draw(t, "through"),
			Method: word.Draw(t, "method"), Objects: rapid.SliceOfN(word, 0, 5).Draw(t, "objects"), Fields: rapid.SliceOfN(word, 0, 5).Draw(t, "fields"),
			Outcome:     Outcome(rapid.IntRange(0, 5).Draw(t, "outcome")),
			ErrorReason: word.Draw(t, "reason"), Because: word.Draw(t, "because"), Network: word.Draw(t, "network"),
			Count: rapid.IntRange(0, 1000).Draw(t, "count"),
		}
	})
}

func TestEveryLineIsReadBackAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := lines().Draw(t, "line")
		text := l.Text()
		back, err := Parse(text)
		if err != nil || back.Text() != text || strings.ContainsAny(text, "\r\n") {
			t.Fatalf("%q: read back %+v, %v", text, back, err)
		}
	})
}

func FuzzAText(f *testing.F) {
	f.Add(amended().Text())
	f.Add(`{"time":"2026-03-03T10:15:07.123456Z","role":"nobody","method":"","outcome":"read"}`)
	f.Add(`{"time":"0001-01-01T00:00:00.000000Z","actor":"\u2028\\\"","role":"owner","method":"\u0000","outcome":"unsaid"}`)
	f.Fuzz(func(t *testing.T, text string) {
		l, err := Parse(text)
		if err != nil {
			return
		}
		if got := l.Text(); got != text {
			t.Errorf("read %q, wrote %q", text, got)
		}
		if !KeptUntil(l).Valid() {
			t.Errorf("%q is kept until no day", text)
		}
	})
}

func FuzzAnExportedLine(f *testing.F) {
	s, _ := Seal(Checkpoint{}, amended().Text())
	f.Add(s.Export())
	f.Add(s.WithoutText().Export())
	f.Fuzz(func(t *testing.T, line string) {
		s, err := ParseExport(line)
		if err == nil && s.Export() != line {
			t.Errorf("read %q, wrote %q", line, s.Export())
		}
	})
}

func TestChangesAreKeptTenYearsAndTheRestTwo(t *testing.T) {
	for name, c := range map[string]struct {
		on      time.Time
		outcome Outcome
		want    vehicle.Date
	}{
		"a change":                    {march, Changed, vehicle.MustDate(2036, 3, 3)},
		"what may have changed":       {march, Failed, vehicle.MustDate(2036, 3, 3)},
		"what was read":               {march, Read, vehicle.MustDate(2028, 3, 3)},
		"what was refused":            {march, Refused, vehicle.MustDate(2028, 3, 3)},
		"what changed nothing":        {march, Unchanged, vehicle.MustDate(2028, 3, 3)},
		"a leap day without another":  {time.Date(2024, 2, 29, 23, 0, 0, 0, time.UTC), Read, vehicle.MustDate(2026, 2, 28)},
		"late in the evening further": {time.Date(2026, 3, 2, 23, 30, 0, 0, time.FixedZone("", -3600)), Read, vehicle.MustDate(2028, 3, 3)},
	} {
		if got := KeptUntil(Line{Time: c.on, Outcome: c.outcome}); got != c.want {
			t.Errorf("%s: got %s, want %s", name, got, c.want)
		}
	}
}
