package desk

import (
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/types/known/timestamppb"

	"halfshaft/services/internal/webguard"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// onDay reads a date of the services; zero for none.
func onDay(d *date.Date) vehicle.Date {
	day, err := vehiclewire.Date(d)
	if err != nil {
		return vehicle.Date{}
	}
	return day
}

// civil prints a day of the services; a stroke for none. Where one that is missing
// is left out, it is onDay(d).Long().
func civil(d *date.Date) string { return orNothing(onDay(d).Long()) }

// iso writes a day as fields of dates have it.
func iso(d *date.Date) string {
	if day := onDay(d); !day.IsZero() {
		return day.String()
	}
	return ""
}

// spelled is a day as people write it.
func spelled(text string) string {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		return text
	}
	return d.Long()
}

// moment prints a time; times at the works are those of the machine's records,
// in UTC.
func moment(t *timestamppb.Timestamp) string { return written(t, "2 January 2006, 15:04 UTC") }

// day prints the day of a time; "never" for none.
func day(t *timestamppb.Timestamp) string { return written(t, "2 January 2006") }

func written(t *timestamppb.Timestamp, layout string) string {
	if t == nil {
		return "never"
	}
	return t.AsTime().Format(layout)
}

// span says how long a wait is.
func span(d time.Duration) string {
	if d < time.Minute {
		return webguard.RetryAfter(d) + " seconds"
	}
	n := int((d + time.Minute - 1) / time.Minute)
	if n == 1 {
		return "a minute"
	}
	return wording.Count(n, "minute")
}
