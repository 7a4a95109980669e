package reminder

import (
	"strconv"
	"time"
)

func itoa(n int) string { return strconv.Itoa(n) }

// patience is how long mail may stand before the works is alarmed.
const patience = 24 * time.Hour

// Watch remembers from pass to pass since when something should have gone out
// and nothing did. The zero value has seen nothing.
type Watch struct{ since time.Time }

// Pass is what one pass tells the watch.
type Pass struct {
	Oldest time.Time // claim time of the oldest open notice; zero for none
	Wanted bool      // something was to be sent
	Sent   int       // messages that the mail server took
}

// After gives the alarms after a pass that ended at now, in words for the
// log, and remembers.
func (w *Watch) After(p Pass, now time.Time) []string {
	var alarms []string
	if !p.Oldest.IsZero() && now.Sub(p.Oldest) > patience {
		alarms = append(alarms, "a notice has waited for more than a day")
	}
	switch {
	case p.Sent > 0 || !p.Wanted:
		w.since = time.Time{}
	case w.since.IsZero():
		w.since = now
	case now.Sub(w.since) >= patience:
		alarms = append(alarms, "something was due for a day and no mail went out")
	}
	return alarms
}
