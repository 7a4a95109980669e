package leader

import (
	"strings"
	"time"

	"github.com/robfig/cron/v3"

	"halfshaft/services/fault"
)

// schedule is a checked cron expression, in UTC.
type schedule struct{ cron.Schedule }

// parseSpec reads a cron expression of five fields (minute, hour, day of
// month, month, day of week) or a descriptor such as @daily. What would not
// do what it seems to say is refused.
func parseSpec(spec string) (schedule, error) {
	refuse := func(want string) (schedule, error) {
		return schedule{}, fault.InvalidField("spec", spec, want)
	}
	switch fields := strings.Fields(spec); {
	case strings.Contains(spec, "="):
		// TZ= alone panics in cron 3.0.1, and with fields it would bring
		// hours that do not exist in spring and come twice in autumn.
		return refuse("no time zone: jobs run in UTC")
	case strings.HasPrefix(spec, "@every"):
		return refuse("fields or @hourly, @daily, @weekly, @monthly, @yearly: @every has no fixed times, so a missed one cannot be told")
	case len(fields) == 5 && restricts(fields[2]) && restricts(fields[4]):
		return refuse("a day of month or a day of week, not both: cron would run on either")
	}
	s, err := cron.ParseStandard(spec)
	if err != nil {
		return refuse("a cron expression of five fields: " + err.Error())
	}
	// 2024 was a leap year: 29 February comes within the five years cron looks.
	if s.Next(time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)).IsZero() {
		return refuse("a date that exists")
	}
	return schedule{s}, nil
}

// CheckSpec refuses a cron expression that no job may have, naming the field
// that it came from.
func CheckSpec(field, spec string) error {
	_, err := parseSpec(spec)
	for _, f := range fault.FieldsOf("", err) {
		return fault.InvalidField(field, f.Got, f.Want)
	}
	return err
}

func restricts(field string) bool { return field != "*" && field != "?" }

// latest gives the newest scheduled time not after now, the zero time when
// there is none within five years. cron only knows the next one, so this
// looks from ever earlier moments.
func (s schedule) latest(now time.Time) time.Time {
	now = now.UTC()
	for _, back := range []time.Duration{
		2 * time.Minute, 2 * time.Hour, 2 * day, 32 * day, 367 * day, 5 * 366 * day,
	} {
		var last time.Time
		for t := s.Next(now.Add(-back)); !t.IsZero() && !t.After(now); t = s.Next(t) {
			last = t
		}
		if !last.IsZero() {
			return last
		}
	}
	return time.Time{}
}

const day = 24 * time.Hour
