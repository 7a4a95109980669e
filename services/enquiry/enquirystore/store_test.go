package enquirystore_test

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"
	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var noon = time.Date(2026, time.May, 18, 12, 0, 0, 0, time.UTC)

// open starts a store over a client, until the test ends.
func open(t testing.TB, c *clientv3.Client) *enquirystore.Store {
	t.Helper()
	s, err := enquirystore.Open(t.Context(), kv.NewStore(c), &projection.Group{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

// asked is an enquiry of nobody on record.
func asked(id string) enquirystore.Kept {
	return enquirystore.Kept{Enquiry: enquiry.Enquiry{
		Serial: "AM0147P", ID: id, Channel: enquiry.Telephone, Asker: enquiry.Owner, Question: "Is this drip normal?",
		Positions: []string{"left-swivel-housing"}, Symptom: "weep at the seal", Release: "R3",
		Answers:  []enquiry.Answer{{Text: "A film is.", Links: []string{"answerNotes/drip-at-the-swivel"}, By: "front desk", At: noon.Add(time.Minute)}},
		FollowUp: vehicle.MustDate(2026, 6, 1), Asked: noon, RecordedBy: "front desk", Created: noon,
	}}
}

// sealed is the like of a person on record; its words are left in it on purpose.
func sealed(id string) enquirystore.Kept {
	k := asked(id)
	k.Person, k.Question, k.Answers[0].Text, k.Sealed = "p0031", "MARKED question", "MARKED answer", []byte("under their key")
	return k
}

func note(id string) enquiry.Note {
	return enquiry.Note{ID: id, Title: "A drip at the swivel", Text: "A film is normal.", Caution: "Oil on a lining.", Releases: []string{"R2", "R3"},
		Positions: []string{"left-swivel-housing"}, Keywords: []string{"weep"}, Sample: true, Created: noon}
}

// request is a request with a fresh id.
func request(payload string) enquirystore.Request {
	return enquirystore.Request{ID: uuid.NewString(), Payload: &enquiryv1.GetEnquiryRequest{Name: payload}}
}

// put writes an enquiry that is to be written.
func put(t testing.TB, s *enquirystore.Store, k enquirystore.Kept) enquirystore.Kept {
	t.Helper()
	made, err := s.PutEnquiry(t.Context(), request(k.ID), k)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

func everything(enquiry.Enquiry) bool { return true }

// What was written is read at once by who wrote it, and by whoever starts later.
func TestWhatIsWrittenIsReadAtOnceAndAfterAStartAnew(t *testing.T) {
	c := etcdtest.Client(t)
	s := open(t, c)
	plain := put(t, s, asked("e1"))
	n, err := s.CreateNote(t.Context(), request("n"), note("drip"))
	if err != nil {
		t.Fatal(err)
	}
	for when, s := range map[string]*enquirystore.Store{"at once": s, "after a start anew": open(t, c)} {
		if got, err := s.Enquiry("AM0147P", "e1"); err != nil || cmp.Diff(plain, got) != "" {
			t.Errorf("%s: %v\n%s", when, err, cmp.Diff(plain, got))
		}
		if got, err := s.Note("drip"); err != nil || cmp.Diff(n, got) != "" {
			t.Errorf("%s: %v\n%s", when, err, cmp.Diff(n, got))
		}
		if like := s.Like(enquiry.Question{Text: "it drips"}, everything); len(like) != 1 || like[0].ID != "e1" {
			t.Errorf("%s: alike are %v", when, like)
		}
	}
	for _, err := range []error{errOf(s.Enquiry("AM0147P", "e2")), errOf(s.Enquiry("AM0101G", "e1")), errOf(s.Note("e1"))} {
		if !fault.Is(err, fault.NotFound) {
			t.Errorf("what is not there: %v", err)
		}
	}
}

func errOf[T any](_ T, err error) error { return err }

// The words of a person on record are written in no key, not in the answer that
// a request id remembers either, and are in no index.
func TestWordsUnderAKeyStandInNoKeyAndNoIndex(t *testing.T) {
	c := etcdtest.Client(t)
	s := open(t, c)
	put(t, s, sealed("e1"))
	r, err := c.Get(t.Context(), "", clientv3.WithFromKey())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range r.Kvs {
		if bytes.Contains(e.Value, []byte("MARKED")) {
			t.Errorf("%s holds their words", e.Key)
		}
	}
	got, err := s.Enquiry("AM0147P", "e1")
	if err == nil && (string(got.Sealed) != "under their key" || got.Person != "p0031") {
		t.Errorf("kept is %+v", got)
	}
	fresh := open(t, c)
	if like := fresh.Like(enquiry.Question{Text: "marked", Any: true}, everything); len(like) > 0 {
		t.Errorf("found by what is sealed: %v", like)
	}
	// Named later, the asker's words leave the index that had them.
	k := put(t, s, asked("e2"))
	if like := s.Like(enquiry.Question{Text: "normal", Any: true}, everything); len(like) != 1 {
		t.Errorf("of nobody on record: %v", like)
	}
	k.Person, k.Sealed = "p0031", []byte("under their key")
	put(t, s, k)
	if like := s.Like(enquiry.Question{Text: "normal", Any: true}, everything); len(like) > 0 {
		t.Errorf("still found: %v", like)
	}
}

// A request that is sent again is answered as it was, at its revision, whatever
// came between; another under its id is refused.
func TestARequestThatIsSentAgainTakesEffectOnce(t *testing.T) {
	s := open(t, etcdtest.Client(t))
	q := request("first")
	made, err := s.PutEnquiry(t.Context(), q, asked("e1"))
	if err != nil {
		t.Fatal(err)
	}
	later := made
	later.Symptom = "howl"
	later = put(t, s, later)
	second := asked("another-id-of-the-second-try")
	for range 2 {
		again, err := s.PutEnquiry(t.Context(), q, second)
		if err != nil || cmp.Diff(made, again) != "" {
			t.Errorf("sent again: %v\n%s", err, cmp.Diff(made, again))
		}
		if again, found, err := s.ReplayEnquiry(t.Context(), q); err != nil || !found || cmp.Diff(made, again) != "" {
			t.Errorf("looked up: %v, %v\n%s", found, err, cmp.Diff(made, again))
		}
	}
	if all := s.Enquiries("", everything); len(all) != 1 || all[0].Symptom != "howl" || all[0].Revision != later.Revision {
		t.Errorf("there are %v", all)
	}
	q.Payload = &enquiryv1.GetEnquiryRequest{Name: "second"}
	if _, err := s.PutEnquiry(t.Context(), q, second); !fault.Is(err, fault.Invalid) {
		t.Errorf("another request under one id: %v", err)
	}
	if _, _, err := s.ReplayEnquiry(t.Context(), q); !fault.Is(err, fault.Invalid) {
		t.Errorf("another request under one id, looked up: %v", err)
	}
	if _, found, err := s.ReplayEnquiry(t.Context(), request("never sent")); found || err != nil {
		t.Errorf("never sent: %v, %v", found, err)
	}
	n := request("note")
	first, err := s.CreateNote(t.Context(), n, note("drip"))
	if err != nil {
		t.Fatal(err)
	}
	if again, err := s.CreateNote(t.Context(), n, note("drip")); err != nil || cmp.Diff(first, again) != "" {
		t.Errorf("a note sent again: %v\n%s", err, cmp.Diff(first, again))
	}
	if _, err := s.CreateNote(t.Context(), request("note"), note("drip")); !fault.Is(err, fault.AlreadyExists) {
		t.Errorf("a note of a name that is taken: %v", err)
	}
}

// waited remembers up to which revision somebody waited.
type waited struct{ revision int64 }

func (w *waited) Wait(_ context.Context, revision int64) error {
	w.revision = revision
	return nil
}

// A write answers once everybody in this process who follows has seen it.
func TestAWriteWaitsForAllWhoFollow(t *testing.T) {
	group, w := &projection.Group{}, &waited{}
	s, err := enquirystore.Open(t.Context(), kv.NewStore(etcdtest.Client(t)), group, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	group.Add(enquirystore.Service, w)
	if k := put(t, s, asked("e1")); w.revision != k.Revision {
		t.Errorf("an enquiry of revision %d: waited for %d", k.Revision, w.revision)
	}
	if n, err := s.CreateNote(t.Context(), request("n"), note("drip")); err != nil || w.revision != n.Revision {
		t.Errorf("a note of revision %d: waited for %d, %v", n.Revision, w.revision, err)
	}
}

// Of many who write over one version one succeeds, and what stands is theirs.
func TestOfManyWritersOverOneVersionOneSucceeds(t *testing.T) {
	c := etcdtest.Client(t)
	stores := []*enquirystore.Store{open(t, c), open(t, c)} // two processes
	k := put(t, stores[0], asked("e1"))
	n, err := stores[0].CreateNote(t.Context(), request("n"), note("drip"))
	if err != nil {
		t.Fatal(err)
	}
	won := race(t, func(ctx context.Context, i int) error {
		mine := k
		mine.Symptom = fmt.Sprint("writer ", i)
		return errOf(stores[i%2].PutEnquiry(ctx, request(mine.Symptom), mine))
	})
	if got, _ := open(t, c).Enquiry("AM0147P", "e1"); got.Symptom != fmt.Sprint("writer ", won) {
		t.Errorf("writer %d succeeded, and there stands %q", won, got.Symptom)
	}
	won = race(t, func(ctx context.Context, i int) error {
		mine := n
		mine.Text = fmt.Sprint("writer ", i)
		return errOf(stores[i%2].PutNote(ctx, request(mine.Text), mine))
	})
	if got, _ := open(t, c).Note("drip"); got.Text != fmt.Sprint("writer ", won) {
		t.Errorf("writer %d succeeded, and there stands %q", won, got.Text)
	}
}

// race lets eight write at once and gives the one who succeeded; the others must
// be told of a conflict.
func race(t *testing.T, write func(ctx context.Context, i int) error) (won int) {
	t.Helper()
	var group sync.WaitGroup
	errs := make([]error, 8)
	for i := range errs {
		group.Go(func() { errs[i] = write(t.Context(), i) })
	}
	group.Wait()
	successes := 0
	for i, err := range errs {
		switch {
		case err == nil:
			won = i
			successes++
		case !fault.Is(err, fault.Aborted):
			t.Errorf("writer %d: %v", i, err)
		}
	}
	if successes != 1 {
		t.Errorf("%d of %d succeeded", successes, len(errs))
	}
	return won
}

// Notes are offered for their release, reviewed and in use; and listed by name.
func TestNotesAreOfferedForTheirReleaseOnceReviewed(t *testing.T) {
	s := open(t, etcdtest.Client(t))
	for id, change := range map[string]func(*enquiry.Note){
		"reviewed":       func(n *enquiry.Note) { n.ReviewedBy, n.Reviewed = "ida", noon },
		"for-all":        func(n *enquiry.Note) { n.ReviewedBy, n.Reviewed, n.Releases = "ida", noon, nil },
		"not-reviewed":   func(*enquiry.Note) {},
		"retired":        func(n *enquiry.Note) { n.ReviewedBy, n.Reviewed, n.Retired = "ida", noon, true },
		"about-the-horn": func(n *enquiry.Note) { n.ReviewedBy, n.Reviewed, n.Title, n.Keywords = "ida", noon, "The horn", nil },
	} {
		n := note(id)
		change(&n)
		if _, err := s.CreateNote(t.Context(), request(id), n); err != nil {
			t.Fatal(err)
		}
	}
	for release, want := range map[string]string{"R3": "for-all reviewed", "R4": "for-all", "": "for-all"} {
		var got []string
		for _, n := range s.NotesLike(enquiry.Question{Text: "it weeps", Release: release}) {
			got = append(got, n.ID)
		}
		if strings.Join(sorted(got), " ") != want {
			t.Errorf("for %q: %v, want %s", release, got, want)
		}
	}
	var all []string
	for _, n := range s.Notes(func(n enquiry.Note) bool { return !n.Retired }) {
		all = append(all, n.ID)
	}
	if got := strings.Join(all, " "); got != "about-the-horn for-all not-reviewed reviewed" {
		t.Errorf("listed are %s", got)
	}
}

// A record that cannot be read ends the start with its reason, and repeats
// nothing of it.
func TestADamagedRecordIsNamedAndNotRepeated(t *testing.T) {
	for name, e := range map[string]struct{ key, value string }{
		"no message":      {"enquiries/AM0147P/e1", "\xff words"},
		"no name in it":   {"enquiries/AM0147P/e1", string(must(proto.Marshal(&enquiryv1.KeptEnquiry{Enquiry: &enquiryv1.Enquiry{Question: "words"}})))},
		"no identifier":   {"enquiries/AM0147P", ""},
		"a note likewise": {"notes/drip", "\xff words"},
	} {
		t.Run(name, func(t *testing.T) {
			c := etcdtest.Client(t)
			if _, err := c.Put(t.Context(), kv.Prefix("enquiry")+e.key, e.value); err != nil {
				t.Fatal(err)
			}
			_, err := enquirystore.Open(t.Context(), kv.NewStore(c), &projection.Group{}, nil)
			if err == nil || strings.Contains(err.Error(), "words") {
				t.Errorf("got %v", err)
			}
		})
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
