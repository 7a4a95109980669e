package access

import (
	"testing"
	"time"
)

func TestAKeysRecordGoesAYearAfterItsEnd(t *testing.T) {
	now := time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)
	year, day := now.AddDate(-1, 0, 0), 24*time.Hour
	for name, c := range map[string]struct {
		key  Key
		want bool
	}{
		"it lasts for ever":                     {Key{}, false},
		"it ends tomorrow":                      {Key{Expires: now.Add(day)}, false},
		"it ended a year ago":                   {Key{Expires: year}, true},
		"it ended a year less a second ago":     {Key{Expires: year.Add(time.Second)}, false},
		"it was revoked a year ago":             {Key{Revoked: year}, true},
		"it was revoked of late":                {Key{Revoked: now.Add(-day)}, false},
		"revoked of late, had ended long ago":   {Key{Expires: year.Add(-day), Revoked: now.Add(-day)}, true},
		"revoked long ago, would have ended":    {Key{Expires: now.Add(-day), Revoked: year.Add(-day)}, true},
		"revoked long ago, would still be good": {Key{Expires: now.Add(day), Revoked: year.Add(-day)}, true},
	} {
		if got := c.key.Expired(now); got != c.want {
			t.Errorf("%s: got %v", name, got)
		}
	}
}

func TestTheNameOfAnAccountGoesAYearAfterItWasClosed(t *testing.T) {
	now := time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		closed time.Time
		want   bool
	}{
		"it is open":            {time.Time{}, false},
		"closed a year ago":     {now.AddDate(-1, 0, 0), true},
		"closed a second later": {now.AddDate(-1, 0, 0).Add(time.Second), false},
	} {
		if got := (Account{Closed: c.closed}).Expired(now); got != c.want {
			t.Errorf("%s: got %v", name, got)
		}
	}
}
