package reminderjob

import (
	"strings"
	"testing"
	"time"

	"halfshaft/services/reminder"
)

// A certificate that is about to end is a task of the works, one however many
// passes see it, and is done when another is in use.
func TestACertificateThatIsAboutToEndIsOneTaskThatClosesItself(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	ending := true
	o.Ending = func() (string, time.Time, bool) {
		return "the TLS certificate records.pem ends on 10 June 2026, in 29 days: renew it", noon.Add(-time.Hour), ending
	}
	tasks := func() (open, closed []string) {
		all, err := o.Store.Tasks(t.Context(), "", 100, func(task reminder.Task) bool { return task.Kind == reminder.Standstill })
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range all {
			if k.Completed.IsZero() {
				open = append(open, k.Text)
			} else {
				closed = append(closed, k.Outcome)
			}
		}
		return open, closed
	}
	for hour := range 3 {
		o.now = noon.Add(time.Duration(hour) * time.Hour)
		o.run(t)
		if open, closed := tasks(); len(open) != 1 || len(closed) != 0 || !strings.Contains(open[0], "records.pem ends on 10 June 2026") {
			t.Fatalf("after %d hours: open %q, closed %q", hour, open, closed)
		}
	}
	if got := o.scrape(t)[`alarms_total{kind="certificate-ends"}`]; got != "3" {
		t.Errorf("the metric says %q", got)
	}
	if alarms, err := o.Alarms(t.Context()); err != nil || len(alarms) != 1 || !strings.Contains(alarms[0], "nobody reaches the services") {
		t.Errorf("alarms %q, %v", alarms, err)
	}
	ending = false
	o.now = noon.Add(4 * time.Hour)
	o.run(t)
	if open, closed := tasks(); len(open) != 0 || len(closed) != 1 || closed[0] != "halfshaft: a new certificate is in use" {
		t.Errorf("afterwards: open %q, closed %q", open, closed)
	}
}
