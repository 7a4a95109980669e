package reminder

import (
	"strconv"
	"strings"
	"time"

	"halfshaft/services/vehicle"
)

func itoa(n int) string { return strconv.Itoa(n) }

// How long notices may stand before the works is alarmed. Letters wait for
// somebody to print and post them, which a works may do once a week (common
// practice, no source).
const (
	patience       = 24 * time.Hour
	letterPatience = 8 * 24 * time.Hour
)

// AlarmKind is what stands still.
type AlarmKind string

// The kinds of alarms.
const (
	// Backlog: the oldest open notice has waited for longer than patience.
	Backlog AlarmKind = "BACKLOG"
	// NothingSent: something was due for a day and nothing went out.
	NothingSent AlarmKind = "NOTHING_SENT"
	// Unposted: the oldest letter has waited for longer than letterPatience.
	Unposted AlarmKind = "LETTERS_UNPOSTED"
	// CertificateEnds: a TLS certificate of the process that sends is about to
	// end, after which nobody would reach it.
	CertificateEnds AlarmKind = "CERTIFICATE_ENDS"
)

// Alarm says that notices stand still.
type Alarm struct {
	Kind     AlarmKind
	Sentence string // for the log and for pages
	Since    time.Time
}

// Watch remembers from pass to pass since when something should have gone out
// and nothing did. The zero value has seen nothing. Whoever keeps Since over a
// restart keeps the alarm.
type Watch struct{ Since time.Time }

// Pass is what one pass tells the watch.
type Pass struct {
	Oldest time.Time // claim time of the oldest open notice that is no letter; zero for none
	Letter time.Time // claim time of the oldest letter that was not posted; zero for none
	Wanted bool      // something was to be sent
	Sent   int       // messages that a server or gateway took
}

// After gives the alarms after a pass that ended at now, and remembers.
func (w *Watch) After(p Pass, now time.Time) []Alarm {
	var alarms []Alarm
	if !p.Oldest.IsZero() && now.Sub(p.Oldest) > patience {
		alarms = append(alarms, Alarm{Backlog, "a notice has waited for more than a day", p.Oldest})
	}
	if !p.Letter.IsZero() && now.Sub(p.Letter) > letterPatience {
		alarms = append(alarms, Alarm{Unposted, "a letter has waited for more than a week to be printed and posted", p.Letter})
	}
	switch {
	case p.Sent > 0 || !p.Wanted:
		w.Since = time.Time{}
	case w.Since.IsZero():
		w.Since = now
	case now.Sub(w.Since) >= patience:
		alarms = append(alarms, Alarm{NothingSent, "something was due for a day and nothing went out", w.Since})
	}
	return alarms
}

// Task gives the task that tells the works of the alarm. It hangs on a vehicle
// that waits, and is named after the day since which things stand still, so
// that one standstill makes one task.
func (a Alarm) Task(serial vehicle.Serial, now time.Time) Task {
	kind := strings.ToLower(strings.ReplaceAll(string(a.Kind), "_", "-"))
	since := vehicle.DateOf(a.Since.UTC())
	text := "Notices stand still since " + since.Long() + ": " + a.Sentence +
		". Look at the mail server and the gateway, and at the letters that wait to be printed."
	if a.Kind == CertificateEnds {
		text = "For whoever looks after the machine: " + a.Sentence + ". After that nobody reaches the services any more."
	}
	return Task{
		ID:     string(serial) + "." + Standstill.word() + "." + kind + "." + since.String(),
		Serial: serial, Kind: Standstill, Created: now,
		Text: text,
	}
}
