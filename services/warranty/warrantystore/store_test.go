package warrantystore_test

import (
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"
	"google.golang.org/protobuf/proto"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantystore"
	"halfshaft/services/warranty/warrantywire"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// open starts a store over a client, until the test ends.
func open(t testing.TB, c *clientv3.Client) *warrantystore.Store {
	t.Helper()
	s, err := warrantystore.Open(t.Context(), kv.NewStore(c), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

func claim(id, symptom string) warrantystore.Record {
	return warrantystore.Record{Key: warrantystore.Claims.Key("AM0147P", id), Message: &warrantyv1.Claim{
		Name: warranty.ClaimName("AM0147P", id), State: warrantyv1.ClaimState_CLAIM_STATE_DRAFT, Position: "gearbox", Symptom: symptom, Currency: "GBP",
	}}
}

func span(id string) warrantystore.Record {
	return warrantystore.Record{Key: warrantystore.Spans.Key("AM0147P", id), Message: &warrantyv1.OutOfServiceSpan{
		Name: warrantywire.SpanName("AM0147P", id), Reason: "waiting for a gearbox"}}
}

func term(version, months int) warrantystore.Record {
	t := warranty.StandardTerm(vehicle.MustDate(2020+version, 1, 1))
	t.Version, t.Months = version, months
	return warrantystore.Record{Key: warrantystore.TermKey(t.ID, version), Message: warrantywire.TermProto(t)}
}

// request is a request with a fresh id; answer is what is remembered.
func request(payload string, answer proto.Message) warrantystore.Request {
	return warrantystore.Request{ID: uuid.NewString(), Payload: &warrantyv1.GetClaimRequest{Name: payload}, Answer: answer}
}

// put writes a record that is to be written, and gives its revision.
func put(t testing.TB, s *warrantystore.Store, rec warrantystore.Record) int64 {
	t.Helper()
	r, err := s.Commit(t.Context(), request(rec.Key, rec.Message), rec)
	if err != nil {
		t.Fatal(err)
	}
	return r.Revision
}

// What was written is read at once by who wrote it, by whoever starts later, and
// after the history it was written in is gone.
func TestWhatIsWrittenIsReadAtOnceAndAfterAStartAnew(t *testing.T) {
	c := etcdtest.Client(t)
	s := open(t, c)
	at := put(t, s, claim("c2", "howls"))
	put(t, s, claim("c1", "jumps out of third"))
	put(t, s, span("s1"))
	put(t, s, term(2, 24))
	last := put(t, s, term(1, 12))
	check := func(when string, s *warrantystore.Store) {
		t.Helper()
		v := s.Vehicle("AM0147P")
		if len(v.Claims) != 2 || v.Claims[0].Message.GetSymptom() != "jumps out of third" || v.Claims[1].Revision != at {
			t.Errorf("%s: claims in order of their names: %v", when, v.Claims)
		}
		if got, ok := v.Claim("vehicles/AM0147P/claims/c2"); !ok || !proto.Equal(got.Message, claim("c2", "howls").Message) {
			t.Errorf("%s: %v", when, got.Message)
		}
		if got, ok := v.Span("vehicles/AM0147P/outOfServiceSpans/s1"); !ok || !proto.Equal(got.Message, span("s1").Message) {
			t.Errorf("%s: %v", when, got.Message)
		}
		if all := s.Terms(); len(all) != 2 || all[0].Term.Months != 12 || all[1].Term.Months != 24 || all[0].Revision != last {
			t.Errorf("%s: versions in order: %v", when, all)
		}
		if all := s.Serials(); len(all) != 1 || all[0] != "AM0147P" {
			t.Errorf("%s: %v", when, all)
		}
		if v := s.Vehicle("AM0101G"); len(v.Claims)+len(v.Spans) != 0 {
			t.Errorf("%s: of another vehicle: %v", when, v)
		}
	}
	check("at once", s)
	if _, err := c.Compact(t.Context(), last); err != nil {
		t.Fatal(err)
	}
	check("after a start anew", open(t, c))
}

// What is worked out anew, and what the key says already, is in no key.
func TestSumsTagsAndNamesAreNotStored(t *testing.T) {
	c := etcdtest.Client(t)
	s := open(t, c)
	rec := claim("c1", "howls")
	m := rec.Message.(*warrantyv1.Claim)
	m.Etag, m.Totals, m.AnswerByDate = "7", &warrantyv1.ClaimTotals{ClaimedMinor: 5}, nil
	put(t, s, rec)
	r, err := c.Get(t.Context(), rec.Key)
	if err != nil || len(r.Kvs) != 1 {
		t.Fatal(r, err)
	}
	kept := &warrantyv1.Claim{}
	if err := proto.Unmarshal(r.Kvs[0].Value, kept); err != nil {
		t.Fatal(err)
	}
	if kept.GetName() != "" || kept.GetEtag() != "" || kept.GetTotals() != nil || kept.GetSymptom() != "howls" {
		t.Errorf("stored is %v", kept)
	}
	if m.GetEtag() != "7" || m.GetTotals().GetClaimedMinor() != 5 {
		t.Errorf("storing changed what was given: %v", m)
	}
}

// A request that is sent again is answered as it was, at its revision, whatever
// came between; another under its id is refused.
func TestARequestThatIsSentAgainTakesEffectOnce(t *testing.T) {
	s := open(t, etcdtest.Client(t))
	first, second := claim("c1", "howls"), claim("c2", "howls")
	q := request("first", first.Message)
	made, err := s.Commit(t.Context(), q, first)
	if err != nil {
		t.Fatal(err)
	}
	changed := claim("c1", "howls on overrun")
	changed.Was = made.Revision
	put(t, s, changed)
	q.Answer = second.Message
	again, err := s.Commit(t.Context(), q, second)
	if err != nil || !again.Replayed || again.Revision != made.Revision {
		t.Errorf("sent again: %+v, %v", again, err)
	}
	said := &warrantyv1.Claim{}
	if err := proto.Unmarshal(again.Answer, said); err != nil || !proto.Equal(said, first.Message) {
		t.Errorf("answered with %v", said)
	}
	if found, ok, err := s.Lookup(t.Context(), q.ID, q.Payload); err != nil || !ok || found.Revision != made.Revision {
		t.Errorf("looked up: %+v, %v, %v", found, ok, err)
	}
	if all := s.Vehicle("AM0147P").Claims; len(all) != 1 || all[0].Message.GetSymptom() != "howls on overrun" {
		t.Errorf("there are %v", all)
	}
	q.Payload = &warrantyv1.GetClaimRequest{Name: "second"}
	if _, err := s.Commit(t.Context(), q, second); !fault.Is(err, fault.Invalid) {
		t.Errorf("another request under one id: %v", err)
	}
	if _, found, err := s.Lookup(t.Context(), uuid.NewString(), q.Payload); found || err != nil {
		t.Errorf("never sent: %v, %v", found, err)
	}
}

// Of many who replace one record one wins, and the others are told; nothing that
// is there is written over by what is new.
func TestOfManyWhoReplaceOneRecordOneWins(t *testing.T) {
	c := etcdtest.Client(t)
	was := put(t, open(t, c), claim("c1", "howls"))
	stores := []*warrantystore.Store{open(t, c), open(t, c), open(t, c)}
	var group sync.WaitGroup
	errs := make([]error, 12)
	for i := range errs {
		group.Go(func() {
			rec := claim("c1", strings.Repeat("x", i+1))
			rec.Was = was
			_, errs[i] = stores[i%len(stores)].Commit(t.Context(), request(rec.Key, rec.Message), rec)
		})
	}
	group.Wait()
	won := -1
	for i, err := range errs {
		switch {
		case err == nil && won < 0:
			won = i
		case err == nil:
			t.Errorf("%d and %d both won", won, i)
		case !fault.Is(err, fault.Aborted):
			t.Errorf("%d: %v", i, err)
		}
	}
	if won < 0 {
		t.Fatal("nobody won")
	}
	fresh := open(t, c)
	if got := fresh.Vehicle("AM0147P").Claims; len(got) != 1 || len(got[0].Message.GetSymptom()) != won+1 {
		t.Errorf("there is %v, and %d won", got, won)
	}
	rec := claim("c1", "new")
	if _, err := fresh.Commit(t.Context(), request("new", rec.Message), rec); !fault.Is(err, fault.AlreadyExists) {
		t.Errorf("what is new was written over what is there: %v", err)
	}
	version := term(1, 12)
	put(t, fresh, version)
	if _, err := fresh.Commit(t.Context(), request("again", version.Message), version); !fault.Is(err, fault.AlreadyExists) {
		t.Errorf("a version was written twice: %v", err)
	}
}

// What one process writes the others read, and what goes from the keys goes from
// memory; keys of a later program hinder nobody.
func TestOthersFollowAndForget(t *testing.T) {
	c := etcdtest.Client(t)
	s, other := open(t, c), open(t, c)
	put(t, s, claim("c1", "howls"))
	put(t, s, span("s1"))
	at := put(t, s, term(1, 12))
	if err := other.Wait(t.Context(), at); err != nil {
		t.Fatal(err)
	}
	before := other.Vehicle("AM0147P")
	if len(before.Claims) != 1 || len(before.Spans) != 1 || len(other.Terms()) != 1 {
		t.Fatalf("the other reads %v", before)
	}
	if _, err := c.Put(t.Context(), "/halfshaft/v1/warranty/tomorrow/AM0147P/x", "not for this program"); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{claim("c1", "").Key, span("s1").Key, warrantystore.TermKey("WORKS-12", 1)} {
		r, err := c.Delete(t.Context(), key)
		if err != nil {
			t.Fatal(err)
		}
		if err := other.Wait(t.Context(), r.Header.Revision); err != nil {
			t.Fatal(err)
		}
	}
	if v := other.Vehicle("AM0147P"); len(v.Claims)+len(v.Spans)+len(other.Terms()) != 0 {
		t.Errorf("it remembers %v", v)
	}
	if len(before.Claims) != 1 || len(before.Spans) != 1 || before.Claims[0].Message == nil || before.Spans[0].Message == nil {
		t.Error("what was read before was altered")
	}
}

// A value that cannot be read stops the start with the name of what it is.
func TestADamagedRecordIsNamed(t *testing.T) {
	for name, key := range map[string]string{
		"vehicles/AM0147P/claims/c1": claim("c1", "").Key, "outOfServiceSpans/s1": span("s1").Key, "terms/WORKS-12/0001": warrantystore.TermKey("WORKS-12", 1),
	} {
		c := etcdtest.Client(t)
		if _, err := c.Put(t.Context(), key, "\xff\xff"); err != nil {
			t.Fatal(err)
		}
		s, err := warrantystore.Open(t.Context(), kv.NewStore(c), nil)
		if err == nil {
			s.Close()
		}
		if err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
