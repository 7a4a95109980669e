package leader

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
)

func TestAnExpressionThatWouldNotDoWhatItSaysIsRefused(t *testing.T) {
	for name, spec := range map[string]string{
		"the thirtieth of February":       "0 6 30 2 *",
		"the thirty-first of April":       "0 6 31 4 *",
		"a time zone with fields":         "TZ=Europe/London 0 6 * * *",
		"a time zone alone, which panics": "TZ=Europe/London",
		"a cron time zone":                "CRON_TZ=UTC 0 6 * * *",
		"a day of month or of week":       "0 6 1 * 1",
		"an interval without fixed times": "@every 1h",
		"a minute that is none":           "60 * * * *",
		"too few fields":                  "0 6 * *",
		"seconds":                         "0 0 6 * * *",
		"nothing":                         "",
		"words":                           "every day at six",
		"a descriptor that is none":       "@fortnightly",
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := parseSpec(spec); !fault.Is(err, fault.Invalid) {
				t.Errorf("%q: got %v", spec, err)
			}
		})
	}
}

func TestTheLatestScheduledTimeIsFoundFromAnyMoment(t *testing.T) {
	at := func(s string) time.Time {
		v, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	// Read off a calendar: 1 June 2030 is a Saturday, 2028 and 2024 are leap years.
	for name, c := range map[string]struct{ spec, now, want string }{
		"today, after the hour":                {"0 6 * * *", "2030-06-01T06:00:01Z", "2030-06-01T06:00:00Z"},
		"today, on the hour":                   {"0 6 * * *", "2030-06-01T06:00:00Z", "2030-06-01T06:00:00Z"},
		"yesterday, a moment before the hour":  {"0 6 * * *", "2030-06-01T05:59:59Z", "2030-05-31T06:00:00Z"},
		"every minute":                         {"* * * * *", "2030-06-01T06:00:30Z", "2030-06-01T06:00:00Z"},
		"the last Monday":                      {"30 4 * * 1", "2030-06-01T00:00:00Z", "2030-05-27T04:30:00Z"},
		"the first of the month":               {"0 0 1 * *", "2030-06-30T23:59:59Z", "2030-06-01T00:00:00Z"},
		"the thirty-first, skipping June":      {"0 0 31 * *", "2030-06-30T00:00:00Z", "2030-05-31T00:00:00Z"},
		"once a year":                          {"@yearly", "2030-06-01T00:00:00Z", "2030-01-01T00:00:00Z"},
		"leap day, two years back":             {"0 12 29 2 *", "2030-06-01T00:00:00Z", "2028-02-29T12:00:00Z"},
		"leap day, almost four years back":     {"0 12 29 2 *", "2028-02-29T11:00:00Z", "2024-02-29T12:00:00Z"},
		"a moment given in another zone":       {"0 6 * * *", "2030-06-01T07:30:00+02:00", "2030-05-31T06:00:00Z"},
		"through the spring change of a clock": {"30 2 * * *", "2030-03-31T03:00:00Z", "2030-03-31T02:30:00Z"},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := parseSpec(c.spec)
			if err != nil {
				t.Fatal(err)
			}
			if got := s.latest(at(c.now)); !got.Equal(at(c.want)) {
				t.Errorf("got %v, want %s", got, c.want)
			}
		})
	}
}

func TestNothingIsScheduledBetweenTheLatestTimeAndNow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := rapid.SampledFrom([]string{"* * * * *", "*/7 3-9 * * *", "0 6 * * *", "15 2 * * 1,4", "0 0 31 * *", "@yearly", "@hourly"}).Draw(t, "spec")
		s, err := parseSpec(spec)
		if err != nil {
			t.Fatal(err)
		}
		now := time.Unix(rapid.Int64Range(1.5e9, 2.5e9).Draw(t, "now"), 0).UTC()
		last := s.latest(now)
		if last.IsZero() || last.After(now) {
			t.Fatalf("the latest time not after %v is %v", now, last)
		}
		if next := s.Next(last); !next.After(now) {
			t.Fatalf("%v lies between %v and %v", next, last, now)
		}
		if s.Next(last.Add(-time.Second)) != last {
			t.Fatalf("%v is no scheduled time", last)
		}
	})
}

func FuzzParseSpec(f *testing.F) {
	for _, s := range []string{"0 6 * * *", "@daily", "TZ=", "*/0 * * * *", "0 0 30 2 *", "@every"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, spec string) {
		s, err := parseSpec(spec)
		if err != nil {
			return
		}
		now := time.Date(2030, 6, 1, 0, 0, 0, 0, time.UTC)
		if last := s.latest(now); last.After(now) {
			t.Errorf("%q: the latest time is in the future: %v", spec, last)
		}
	})
}
