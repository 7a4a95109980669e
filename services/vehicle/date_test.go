package vehicle_test

import (
	"encoding/json"
	"errors"
	"testing"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// day reads a date in a test.
func day(t interface{ Fatal(...any) }, text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestDaysThatDoNotExistAreRefused(t *testing.T) {
	for _, text := range []string{
		"", "2026-02-29", "2100-02-29", "2026-13-01", "2026-00-10", "2026-04-31", "2026-01-00", "0000-01-01",
		"25.11.2026", "11/25/2026", "2026-1-5", "26-11-25", "2026-11-25T00:00:00Z", " 2026-11-25", "2026/11/25",
		"+026-11-25", "2026-11-2\u0665",
	} {
		d, err := vehicle.ParseDate(text)
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Invalid || f.Reason != "DATE" || !d.IsZero() {
			t.Errorf("ParseDate(%q) = %v, %v; want an Invalid fault DATE", text, d, err)
		}
	}
	if d, err := vehicle.NewDate(10000, 1, 1); err == nil {
		t.Errorf("NewDate(10000, 1, 1) = %v", d)
	}
	defer func() {
		if recover() == nil {
			t.Error("MustDate(2026, 2, 30) does not panic")
		}
	}()
	vehicle.MustDate(2026, time.February, 30)
}

func TestNoDateStaysNoDate(t *testing.T) {
	var none vehicle.Date
	if !none.IsZero() || none.Valid() || none.String() != "" || none.Long() != "" || !none.Start(time.UTC).IsZero() {
		t.Errorf("no date is written %q and %q", none.String(), none.Long())
	}
	if !none.AddDays(5).IsZero() || !none.AddMonths(5).IsZero() || none.MonthsUntil(vehicle.MustDate(2026, 1, 1)) != 0 {
		t.Error("something was added to no date")
	}
	if first := vehicle.MustDate(1, 1, 1); !none.Before(first) || none.Ordinal() >= first.Ordinal() {
		t.Error("no date is not before every date")
	}
	if vehicle.DateFromOrdinal(none.Ordinal()) != none || vehicle.DateFromOrdinal(-1<<62) != none {
		t.Error("no date is not read back from its ordinal")
	}
	if got := vehicle.DateFromOrdinal(1 << 62); got != vehicle.MustDate(9999, 12, 31) {
		t.Errorf("the last date is %s", got)
	}
	if got := vehicle.DateOf(time.Date(12000, 1, 1, 0, 0, 0, 0, time.UTC)); !got.IsZero() {
		t.Errorf("the year 12000 gives %s", got)
	}
	if got := vehicle.MustDate(2026, 1, 1).AddDays(1 << 62); got != vehicle.MustDate(9999, 12, 31) {
		t.Errorf("an absurd number of days gives %s", got)
	}
}

func TestADateIsWrittenForPeopleAndPrograms(t *testing.T) {
	d := vehicle.MustDate(2026, time.November, 5)
	if d.String() != "2026-11-05" || d.Long() != "5 November 2026" || d.Weekday() != time.Thursday {
		t.Errorf("%s, %s, %s", d, d.Long(), d.Weekday())
	}
	type record struct{ On, Never vehicle.Date }
	text, err := json.Marshal(record{On: d})
	if want := `{"On":"2026-11-05","Never":""}`; err != nil || string(text) != want {
		t.Errorf("in JSON %s, %v; want %s", text, err, want)
	}
	var back record
	if err := json.Unmarshal(text, &back); err != nil || back.On != d || !back.Never.IsZero() {
		t.Errorf("from JSON %v, %v", back, err)
	}
	if err := json.Unmarshal([]byte(`{"On":"2026-02-30"}`), &back); err == nil {
		t.Error("30 February is read from JSON")
	}
}

func TestTheDayIsThatOfTheMomentsOwnZone(t *testing.T) {
	moment := time.Date(2026, 11, 25, 23, 30, 0, 0, time.UTC)
	if got := vehicle.DateOf(moment.In(time.FixedZone("", 3600))); got != vehicle.MustDate(2026, 11, 26) {
		t.Errorf("half past midnight belongs to %s", got)
	}
}

func FuzzParseDate(f *testing.F) {
	for _, seed := range []string{
		"2026-11-25", "2024-02-29", "2026-02-29", "0001-01-01", "9999-12-31", "0000-00-00", "", "2026-1-1",
		"2026-11-25 ", "20261125", "-026-11-25", "2026-11-\xff\xff",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := vehicle.ParseDate(text)
		if _, library := time.Parse(time.DateOnly, text); (err == nil) != (library == nil) && text[:4] != "0000" {
			t.Fatalf("ParseDate(%q): %v, the time package: %v", text, err, library)
		}
		if err != nil {
			if !fault.Is(err, fault.Invalid) || !d.IsZero() {
				t.Fatalf("ParseDate(%q) = %v, %v", text, d, err)
			}
			return
		}
		if d.String() != text || vehicle.DateFromOrdinal(d.Ordinal()) != d {
			t.Fatalf("%q is written back as %q, from its ordinal %v", text, d, vehicle.DateFromOrdinal(d.Ordinal()))
		}
	})
}
