package enquirystore_test

import (
	"context"
	"flag"
	"fmt"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	clientv3 "go.etcd.io/etcd/client/v3"
	"pgregory.net/rapid"

	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

func sorted(s []string) []string { return slices.Sorted(slices.Values(s)) }

// line is a client whose watches can be cut, and held off until it is mended.
type line struct {
	clientv3.Watcher
	mu   sync.Mutex
	open chan struct{}
	cuts []context.CancelFunc
}

func newLine(c *clientv3.Client) (*line, *clientv3.Client) {
	l := &line{Watcher: c.Watcher, open: make(chan struct{})}
	close(l.open)
	through := clientv3.NewCtxClient(c.Ctx())
	through.KV, through.Watcher = c.KV, l
	return l, through
}

func (l *line) Watch(ctx context.Context, key string, opts ...clientv3.OpOption) clientv3.WatchChan {
	l.mu.Lock()
	open := l.open
	l.mu.Unlock()
	select {
	case <-open:
	case <-ctx.Done():
	}
	ctx, cancel := context.WithCancel(ctx)
	l.mu.Lock()
	l.cuts = append(l.cuts, cancel)
	l.mu.Unlock()
	return l.Watcher.Watch(ctx, key, opts...)
}

func (l *line) cut() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.open = make(chan struct{})
	for _, c := range l.cuts {
		c()
	}
	l.cuts = nil
}

func (l *line) mend() {
	l.mu.Lock()
	defer l.mu.Unlock()
	close(l.open)
}

// seen is all that a store answers, to be compared with another's.
type seen struct {
	All   []enquirystore.Kept
	Of    []enquirystore.Kept
	Notes []enquirystore.KeptNote
	Like  []enquirystore.Similar
	Offer []enquirystore.KeptNote
}

func lookAt(s *enquirystore.Store) seen {
	q := enquiry.Question{Text: "weep howl normal words", Positions: []string{"left-swivel-housing"}, Release: "R3", Any: true}
	return seen{
		s.Enquiries("", everything), s.Enquiries("AM0101G", everything), s.Notes(func(enquiry.Note) bool { return true }), s.Like(q, everything), s.NotesLike(q),
	}
}

// A process whose watch was cut while others wrote, removed and compacted holds
// what one holds that starts anew: records, and what the index finds.
func TestAfterACutAndACompactionAllIsAsAfterAStartAnew(t *testing.T) {
	c := etcdtest.Client(t)
	few(t)
	rapid.Check(t, func(r *rapid.T) {
		if _, err := c.Delete(t.Context(), "/halfshaft/", clientv3.WithPrefix()); err != nil {
			t.Fatal(err)
		}
		writer := open(t, c)
		defer writer.Close()
		network, through := newLine(c)
		group := &projection.Group{}
		follower, err := enquirystore.Open(t.Context(), kv.NewStore(through), group, nil)
		if err != nil {
			t.Fatal(err)
		}
		defer follower.Close()
		cut := false
		r.Repeat(map[string]func(*rapid.T){
			"write an enquiry": func(r *rapid.T) { writeOne(t, r, writer) },
			"write a note":     func(r *rapid.T) { writeNote(t, r, writer) },
			"remove": func(r *rapid.T) {
				key := rapid.SampledFrom([]string{"enquiries/AM0147P/e1", "enquiries/AM0101G/e2", "notes/n1"}).Draw(r, "key")
				if _, err := c.Delete(t.Context(), kv.Prefix("enquiry")+key); err != nil {
					t.Fatal(err)
				}
				settle(t, writer)
			},
			"compact": func(*rapid.T) {
				g, err := c.Get(t.Context(), "x")
				if err == nil {
					_, _ = c.Compact(t.Context(), g.Header.Revision) // twice at one revision is refused and changes nothing
				}
			},
			"cut": func(r *rapid.T) {
				if cut {
					r.Skip("it is cut")
				}
				network.cut()
				cut = true
			},
		})
		if cut {
			network.mend()
		}
		g, err := c.Get(t.Context(), "x")
		if err != nil {
			t.Fatal(err)
		}
		if err := group.Wait(t.Context(), enquirystore.Service, g.Header.Revision); err != nil {
			t.Fatal(err)
		}
		fresh := open(t, c)
		defer fresh.Close()
		want := lookAt(fresh)
		for who, s := range map[string]*enquirystore.Store{"who was cut off": follower, "who wrote": writer} {
			if diff := cmp.Diff(want, lookAt(s)); diff != "" {
				r.Fatalf("%s differs from a start anew (-anew):\n%s", who, diff)
			}
		}
	})
}

// few has rapid draw fewer histories than elsewhere: each write here is one to a
// disk.
func few(t *testing.T) {
	checks := flag.Lookup("rapid.checks")
	if checks.Value.String() != checks.DefValue {
		return // somebody asked for another number
	}
	if err := checks.Value.Set("50"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := checks.Value.Set(checks.DefValue); err != nil {
			t.Error(err)
		}
	})
}

// settle lets the writer see a removal behind its back: it writes once more, and
// a write answers after what came before it.
func settle(t *testing.T, s *enquirystore.Store) {
	t.Helper()
	k, err := s.Enquiry("AM0147P", "settled")
	if err != nil {
		k = asked("settled")
	}
	put(t, s, k)
}

// writeOne writes one of few enquiries over what stands.
func writeOne(t *testing.T, r *rapid.T, s *enquirystore.Store) {
	serial := rapid.SampledFrom([]string{"AM0147P", "AM0101G"}).Draw(r, "serial")
	id := rapid.SampledFrom([]string{"e1", "e2", "e3"}).Draw(r, "id")
	k := asked(id)
	k.Serial = vehicle.Serial(serial)
	k.Symptom = rapid.SampledFrom([]string{"weep", "howl in low range", ""}).Draw(r, "symptom")
	k.Positions = rapid.SampledFrom([][]string{nil, {"gearbox"}, {"right-swivel-housing"}, {"left-swivel-housing-oil-seal"}}).Draw(r, "positions")
	if rapid.Bool().Draw(r, "on record") {
		k.Person, k.Sealed = "p1", []byte("sealed")
	}
	if old, err := s.Enquiry(k.Serial, id); err == nil {
		k.Revision = old.Revision
	}
	put(t, s, k)
}

func writeNote(t *testing.T, r *rapid.T, s *enquirystore.Store) {
	n := note(rapid.SampledFrom([]string{"n1", "n2"}).Draw(r, "note"))
	n.Retired, n.ReviewedBy = rapid.Bool().Draw(r, "retired"), rapid.SampledFrom([]string{"", "ida"}).Draw(r, "reviewer")
	n.Keywords = []string{rapid.SampledFrom([]string{"weep", "howl"}).Draw(r, "keyword")}
	var err error
	if old, missing := s.Note(n.ID); missing == nil {
		_, err = s.PutNote(t.Context(), request(fmt.Sprint(n)), enquirystore.KeptNote{Note: n, Revision: old.Revision})
	} else {
		_, err = s.CreateNote(t.Context(), request(fmt.Sprint(n)), n)
	}
	if err != nil {
		t.Fatal(err)
	}
}
