// Package reminderjob sends notices: one pass after another, by whichever
// process leads.
//
// A pass first finishes what was claimed and not marked, then selects what is
// to be told now. A notice is claimed together with its rendered bytes before
// it is sent, and marked with the server's answer afterwards; both writes are
// fenced by the election. A crash between the two repeats the same bytes under
// the same Message-ID or reference, and nothing is ever lost. Letters wait,
// claimed, until they are printed and posted.
//
// What comes back (TakeReturn, TakeText) is taken in by whichever process it
// reaches, each message once: a failure marks the address and hands the notice
// on to the person's next way.
package reminderjob

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"golang.org/x/sync/errgroup"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/links"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwords"
)

// MailSender hands one mail to the mail server and always has an answer. from
// is the address that its bounces go to; empty is the sender's own.
type MailSender interface {
	Send(ctx context.Context, from, to string, message []byte) reminder.Attempt
}

// TextSender hands one text message to the gateway and always has an answer.
// The same reference is always the same message; to is a number in E.164.
type TextSender interface {
	Send(ctx context.Context, reference, to, text string) reminder.Attempt
}

// ReturnPath makes and reads the addresses to which something of a notice comes
// back: the envelope's sender, and where to unsubscribe by mail.
type ReturnPath interface {
	Address(reference string) string
	StopAddress(reference string) string
	Read(address string) (reference string, stop, ok bool)
}

// Config is what the job needs.
type Config struct {
	Store     *reminderstore.Store
	Schedules schedulev1.ScheduleServiceClient
	Owners    ownerv1.OwnerServiceClient
	Parts     partsv1.PartsServiceClient
	Bulletins Bulletins // nil: there are no campaigns to write about
	Handbooks Handbooks // nil: there are no handbooks to send

	Works   reminderwords.Works
	Words   *reminderwords.Renderer // nil: the built-in words
	Mail    MailSender              // nil: there is no mail server, and no mail is claimed
	Text    TextSender              // nil: there is no gateway, and no text message is claimed
	Letters bool                    // letters are printed and posted; without it nobody is told by one
	Paper   string                  // what letters are printed on: "A4", or "Letter" as in North America; "" is A4
	// Sign signs a mail as it is claimed (DKIM, RFC 6376); nil signs nothing.
	Sign func(message []byte, at time.Time) ([]byte, error)
	// ReturnPath makes the envelope senders and the addresses for unsubscribing,
	// and knows them again; nil: what comes back goes to the mail sender's own
	// address, and TakeReturn knows no notice.
	ReturnPath ReturnPath

	Links   links.Ring // signs the links in messages
	BaseURL string     // where the links lead: "https://care.aldermoor.example"; empty: no links

	// Ending tells of a TLS certificate of this process that is about to end, and
	// since when it is spoken of; nil: there is none to watch.
	Ending func() (sentence string, since time.Time, urgent bool)

	Clock  func() time.Time
	Logger *slog.Logger
}

// Job is the sending of notices in one process.
type Job struct {
	Config
	metrics  *metrics
	passing  sync.Mutex    // one pass at a time; it covers year and reported too
	hand     chan struct{} // held by the message that is being handed over: see deliver
	year     yearMemory
	reported reportedMemory

	patience time.Duration // handPatience, but in tests

	mu      sync.Mutex
	term    *term         // of this process's leadership; nil while it does not lead
	changed chan struct{} // closed and renewed when term changes
}

// term is one leadership.
type term struct {
	ctx   context.Context
	fence kv.Fence
}

// New prepares the job; Lead makes it run.
func New(c Config) (*Job, error) {
	if c.Words == nil {
		var err error
		if c.Words, err = reminderwords.New(nil); err != nil {
			return nil, err
		}
	}
	j := &Job{Config: c, hand: make(chan struct{}, 1), patience: handPatience, changed: make(chan struct{})}
	j.metrics = newMetrics(j)
	return j, nil
}

// Name is the election's and the cron job's name.
const Name = "reminder"

// Lead stands for election until ctx ends and, while it leads, runs a pass
// whenever spec says (a cron expression in UTC); with an empty spec passes run
// only when somebody asks. What somebody asked for is sent as soon as it is
// claimed.
func (j *Job) Lead(ctx context.Context, client *clientv3.Client, store *kv.Store, spec string) error {
	return leader.Run(ctx, client, leader.Config{Name: Name, Logger: j.Logger}, func(ctx context.Context, fence kv.Fence) error {
		j.lead(&term{ctx, fence})
		defer j.lead(nil)
		group, ctx := errgroup.WithContext(ctx)
		group.Go(func() error { return j.sendAsked(ctx, fence) })
		if spec != "" {
			group.Go(func() error {
				return leader.RunJobs(ctx, client, store, []leader.Job{{
					Name: "reminder-pass", Spec: spec,
					Pass: func(ctx context.Context, _ time.Time, _ kv.Fence) error {
						_, err := j.pass(ctx, fence)
						return err
					},
				}}, j.Clock, j.Logger)
			})
		}
		return group.Wait()
	})
}

func (j *Job) lead(t *term) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.term = t
	close(j.changed)
	j.changed = make(chan struct{})
}

// electionPatience is how long a request for a pass waits for this process to
// win the election: it has just started, or the former leader has just gone.
const electionPatience = 3 * time.Second

// Run runs one pass now, in the process that leads.
func (j *Job) Run(ctx context.Context) (*Report, error) {
	patience := time.NewTimer(electionPatience)
	defer patience.Stop()
	for {
		j.mu.Lock()
		t, changed := j.term, j.changed
		j.mu.Unlock()
		if t != nil {
			ctx, cancel := context.WithCancel(ctx)
			defer cancel()
			stop := context.AfterFunc(t.ctx, cancel) // a lost election ends the pass
			defer stop()
			return j.pass(ctx, t.fence)
		}
		select {
		case <-changed:
		case <-patience.C:
			return nil, fault.New(fault.FailedPrecondition, "NOT_LEADING", "Another process sends the notices: ask that one.")
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// Report says what a pass did, or in a dry run would do.
type Report struct {
	mu                                                    sync.Mutex
	Claimed, Sent, Waiting, Parked, Silenced, Tasks, Held int
	Rerouted                                              int                // refused for good, and told another way by the next pass
	Letters                                               int                // wait to be printed and posted
	Notices                                               []reminder.Notice  // claimed by this pass
	Lines                                                 []reminder.Pending // every item that comes up, for every person, with what becomes of it
	Alarms                                                []reminder.Alarm   // what stands still

	stalled map[reminder.Channel]int // see mostStalled
}

// note keeps what a plan holds back.
func (r *Report) note(plan reminder.Plan) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.Held += len(plan.Held)
	r.Lines = append(r.Lines, plan.Lines...)
}

// claimed keeps a notice that this pass claimed.
func (r *Report) claimed(n reminder.Notice) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.Claimed++
	r.Notices = append(r.Notices, n)
}

func (r *Report) add(count *int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	*count++
}

// now is the present as it is stored.
func (j *Job) now() time.Time { return j.Clock().UTC().Truncate(time.Microsecond) }

// AsService gives a context whose calls to other services are made by this one
// and not by whoever asked: what an owner is shown of their vehicle rests on
// more than they may read.
func AsService(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "reminder"})
}

// pass finishes what is open and tells what is to be told.
func (j *Job) pass(ctx context.Context, fence kv.Fence) (*Report, error) {
	if !j.sends() {
		return nil, fault.New(fault.FailedPrecondition, "NO_MAIL_SERVER", "No mail server is configured, so no notice can go out.")
	}
	j.passing.Lock()
	defer j.passing.Unlock()
	ctx = AsService(ctx)
	if err := j.Store.Sync(ctx); err != nil {
		return nil, err
	}
	r, w := &Report{}, newWorld(j.Clock())
	wanted, err := j.work(ctx, fence, w, r)
	return r, j.endPass(ctx, fence, r, pass{w.now, wanted, err})
}

// work finishes what is open and tells what is to be told; wanted says whether
// there was anything to send.
func (j *Job) work(ctx context.Context, fence kv.Fence, w *world, r *Report) (wanted bool, err error) {
	if err := j.tellChanged(ctx); err != nil {
		return false, err
	}
	if err := j.look(ctx, w); err != nil {
		return false, err
	}
	if err := j.finish(ctx, fence, w, r); err != nil {
		return false, err
	}
	if err := j.handbooksAnew(ctx, fence, r); err != nil {
		return false, err
	}
	if err := j.lookAtYear(ctx, w); err != nil {
		return false, err
	}
	if wanted, err = j.tell(ctx, fence, w, r); err != nil {
		return wanted, err
	}
	if err := j.searchOwners(ctx, fence, w, r); err != nil {
		return wanted, err
	}
	return wanted, j.reportLetters(ctx)
}

// stops reports whether an error ends the whole pass: the election is lost or
// the process stops. Anything else concerns one vehicle.
func stops(ctx context.Context, err error) bool {
	return errors.Is(err, kv.ErrNotLeader) || ctx.Err() != nil
}
