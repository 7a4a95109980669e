package reminderjob

import (
	"strings"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"halfshaft/services/reminder"
)

// metrics counts what this process does. No label names a vehicle or a person.
type metrics struct {
	claimed, sent, parked, rerouted, silenced, returned, alarms *prometheus.CounterVec

	delay *prometheus.HistogramVec
	pass  prometheus.Histogram

	backlog *backlog
}

// The buckets of the histograms, in seconds: a message may go out at once or
// after days of trying.
var (
	delayBuckets = []float64{1, 5, 30, 60, 300, 900, 3600, 4 * 3600, 12 * 3600, 86400, 2 * 86400, 5 * 86400, 14 * 86400}
	passBuckets  = []float64{0.01, 0.05, 0.25, 1, 5, 15, 60, 300, 900, 3600}
)

func newMetrics(j *Job) *metrics {
	counter := func(name, help string, labels ...string) *prometheus.CounterVec {
		return prometheus.NewCounterVec(prometheus.CounterOpts{Namespace: "halfshaft", Subsystem: "reminder", Name: name, Help: help}, labels)
	}
	return &metrics{
		claimed:  counter("notices_claimed_total", "Notices claimed, by channel and stage.", "channel", "stage"),
		sent:     counter("notices_sent_total", "Notices that a server or gateway took, and letters posted, by channel.", "channel"),
		parked:   counter("notices_parked_total", "Notices parked, by channel.", "channel"),
		rerouted: counter("notices_rerouted_total", "Notices that failed and are told by another channel, by the channel that failed.", "channel"),
		silenced: counter("notices_silenced_total", "Notices silenced before they were sent, by channel.", "channel"),
		returned: counter("returns_total", "Messages that came back, by kind.", "kind"),
		alarms:   counter("alarms_total", "Passes that ended with an alarm, by kind.", "kind"),
		delay: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Namespace: "halfshaft", Subsystem: "reminder", Name: "claim_to_acceptance_seconds", Buckets: delayBuckets,
			Help: "Time from the claim of a notice until a server or gateway took it, or the letter was posted.",
		}, []string{"channel"}),
		pass: prometheus.NewHistogram(prometheus.HistogramOpts{
			Namespace: "halfshaft", Subsystem: "reminder", Name: "pass_seconds", Buckets: passBuckets, Help: "How long passes took.",
		}),
		backlog: newBacklog(j),
	}
}

// Collectors gives what this process counts.
func (j *Job) Collectors() []prometheus.Collector {
	m := j.metrics
	return []prometheus.Collector{
		m.claimed, m.sent, m.parked, m.rerouted, m.silenced, m.returned, m.alarms, m.delay, m.pass, m.backlog,
	}
}

// Register puts what this process counts into a registry; a name that is taken
// there is an error.
func (j *Job) Register(r prometheus.Registerer) error {
	for _, c := range j.Collectors() {
		if err := r.Register(c); err != nil {
			return err
		}
	}
	return nil
}

// noteClaim counts a notice that was claimed.
func (m *metrics) noteClaim(n reminder.Notice) {
	m.claimed.WithLabelValues(string(n.Channel), n.Stage.String()).Inc()
}

// noteMark counts what became of a notice.
func (m *metrics) noteMark(before, after reminder.Notice) {
	if before.State == after.State {
		return
	}
	channel := string(after.Channel)
	switch after.State {
	case reminder.Sent:
		m.sent.WithLabelValues(channel).Inc()
		m.delay.WithLabelValues(channel).Observe(after.Sent.Sub(after.Claimed).Seconds())
	case reminder.Parked:
		m.parked.WithLabelValues(channel).Inc()
	case reminder.Rerouted:
		m.rerouted.WithLabelValues(channel).Inc()
	case reminder.Silenced:
		m.silenced.WithLabelValues(channel).Inc()
	}
}

// returnWords are the kinds of returns as labels say them.
var returnWords = map[reminder.ReturnKind]string{
	reminder.Failed: "failed", reminder.GivenUp: "given-up", reminder.Delayed: "delayed", reminder.Relayed: "relayed",
	reminder.Delivered: "delivered", reminder.Complaint: "complaint", reminder.AutoReply: "auto-reply", reminder.Reply: "reply",
}

// noteReturn counts something that came back.
func (m *metrics) noteReturn(kind reminder.ReturnKind) {
	word, known := returnWords[kind]
	if !known {
		word = "unknown"
	}
	m.returned.WithLabelValues(word).Inc()
}

// notePass counts a pass and what alarmed it.
func (m *metrics) notePass(took time.Duration, alarms []reminder.Alarm) {
	m.pass.Observe(took.Seconds())
	for _, a := range alarms {
		m.alarms.WithLabelValues(strings.ToLower(strings.ReplaceAll(string(a.Kind), "_", "-"))).Inc()
	}
}

// backlog tells what waits at the moment it is asked.
type backlog struct {
	job                      *Job
	since                    atomic.Pointer[time.Time] // when nothing went out first although something was due; zero while things move
	waiting, oldest, silence *prometheus.Desc
}

func newBacklog(j *Job) *backlog {
	desc := func(name, help string, labels ...string) *prometheus.Desc {
		return prometheus.NewDesc("halfshaft_reminder_"+name, help, labels, nil)
	}
	return &backlog{
		job:     j,
		waiting: desc("backlog_notices", "Notices that wait to be sent, or to be printed and posted, by channel.", "channel"),
		oldest:  desc("backlog_oldest_seconds", "Age of the oldest of them by channel; 0 for none.", "channel"),
		silence: desc("standstill_seconds", "Time since something was due and nothing went out; 0 while things move."),
	}
}

// Describe implements prometheus.Collector.
func (b *backlog) Describe(to chan<- *prometheus.Desc) {
	to <- b.waiting
	to <- b.oldest
	to <- b.silence
}

// Collect implements prometheus.Collector.
func (b *backlog) Collect(to chan<- prometheus.Metric) {
	now := b.job.Clock()
	number, age := map[reminder.Channel]int{}, map[reminder.Channel]time.Duration{}
	for _, n := range b.job.Store.Unfinished() {
		number[n.Channel]++
		age[n.Channel] = max(age[n.Channel], now.Sub(n.Claimed))
	}
	gauge := func(d *prometheus.Desc, value float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value, labels...)
	}
	for _, c := range []reminder.Channel{reminder.Mail, reminder.Text, reminder.Letter} {
		gauge(b.waiting, float64(number[c]), string(c))
		gauge(b.oldest, age[c].Seconds(), string(c))
	}
	silence := time.Duration(0)
	if since := b.since.Load(); since != nil && !since.IsZero() {
		silence = now.Sub(*since)
	}
	gauge(b.silence, silence.Seconds())
}
