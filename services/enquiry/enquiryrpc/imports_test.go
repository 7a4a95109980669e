package enquiryrpc

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

// recorded is all that a works has of enquiries, without etags, which are of one
// store, and without what is worked out.
func (w *works) recorded(t testing.TB) []*enquiryv1.EnquiryRow {
	t.Helper()
	var rows []*enquiryv1.EnquiryRow
	all, err := w.ListEnquiries(desk(t.Context()), &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-"})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range all.GetEnquiries() {
		m.Etag = ""
		rows = append(rows, &enquiryv1.EnquiryRow{Row: &enquiryv1.EnquiryRow_Enquiry{Enquiry: m}})
	}
	notes, err := w.ListAnswerNotes(desk(t.Context()), &enquiryv1.ListAnswerNotesRequest{})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range notes.GetAnswerNotes() {
		m.Etag = ""
		rows = append(rows, &enquiryv1.EnquiryRow{Row: &enquiryv1.EnquiryRow_AnswerNote{AnswerNote: m}})
	}
	return rows
}

func (w *works) imported(t testing.TB, id string, rows ...*enquiryv1.EnquiryRow) (*enquiryv1.CommitImportResponse, error) {
	t.Helper()
	if _, err := w.StageImport(engineer(t.Context()), &enquiryv1.StageImportRequest{ImportId: id, Rows: rows}); err != nil {
		return nil, err
	}
	return w.CommitImport(engineer(t.Context()), &enquiryv1.CommitImportRequest{ImportId: id, Chunks: 1})
}

// storied is a works that somebody on record asked, somebody who was erased since,
// and somebody else; with a note that was reviewed and one that was not.
func storied(t *testing.T) *works {
	t.Helper()
	w := newWorks(t, "Europe/London")
	ctx := t.Context()
	e := w.created(t, func(r *enquiryv1.CreateEnquiryRequest) {
		r.Enquiry.Person, r.Enquiry.Question = "people/p0031", "Does Ivy's mat,\n\"or the floor\" get wet?"
		r.Answer = &enquiryv1.EnquiryAnswer{Text: "Tell Ivy that a film is normal.", Links: []string{"vehicles/AM0147P"}}
	})
	w.at = w.at.AddDate(0, 0, 3)
	if _, err := w.RecordAnswer(desk(ctx), &enquiryv1.RecordAnswerRequest{Name: e.GetName(), Answer: &enquiryv1.EnquiryAnswer{Text: "Ivy's came back dry."}, Close: true}); err != nil {
		t.Fatal(err)
	}
	w.created(t, func(r *enquiryv1.CreateEnquiryRequest) { r.Enquiry.Person, r.Enquiry.Symptom = "people/p0077", "" })
	w.erased["people/p0077"] = true
	w.created(t, func(r *enquiryv1.CreateEnquiryRequest) {
		r.Enquiry.Organisation, r.Enquiry.AskerKind, r.Enquiry.Positions = "organisations/ferncombe", enquiryv1.AskerKind_ASKER_KIND_DEALER, []string{"gearbox"}
	})
	for _, name := range []string{"drip", "knock"} {
		n, err := w.CreateAnswerNote(engineer(ctx), &enquiryv1.CreateAnswerNoteRequest{AnswerNote: &enquiryv1.AnswerNote{
			Name: "answerNotes/" + name, Title: "A " + name, Text: "A film\nis normal.", Keywords: []string{"oil, wet", "weep"}, Releases: []string{"R3"}, Sample: true}})
		if err != nil {
			t.Fatal(err)
		}
		if name == "drip" {
			if _, err := w.ReviewAnswerNote(engineer(ctx), &enquiryv1.ReviewAnswerNoteRequest{Name: n.GetName(), Etag: n.GetEtag()}); err != nil {
				t.Fatal(err)
			}
		}
	}
	return w
}

func TestEnquiriesAndNotesComeBackAsTheyWereWithWhoAnsweredAndReviewed(t *testing.T) {
	from := storied(t)
	want := from.recorded(t)
	if len(want) != 5 {
		t.Fatalf("%d records", len(want))
	}
	to := newWorks(t, "Europe/London")
	to.at, to.erased["people/p0077"] = from.at, true
	if got, err := to.imported(t, "one", want...); err != nil || got.GetWritten() != 5 || got.GetUnchanged() != 0 {
		t.Fatalf("got %v, %v", got, err)
	}
	if diff := cmp.Diff(want, to.recorded(t), protocmp.Transform()); diff != "" {
		t.Errorf("(-there +here)\n%s", diff)
	}
	if got, err := to.imported(t, "two", want...); err != nil || got.GetWritten() != 0 || got.GetUnchanged() != 5 {
		t.Errorf("the second time %v, %v", got, err)
	}
	// The words of who was erased are told to be gone here too, and nothing is
	// written where they stood.
	for _, r := range to.recorded(t) {
		if e := r.GetEnquiry(); e.GetPerson() == "people/p0077" {
			kept := must1(to.GetEnquiry(desk(t.Context()), &enquiryv1.GetEnquiryRequest{Name: e.GetName()}))(t)
			_, err := to.RecordAnswer(desk(t.Context()), &enquiryv1.RecordAnswerRequest{Name: e.GetName(), Etag: kept.GetEtag(), Answer: &enquiryv1.EnquiryAnswer{Text: "Yes."}})
			if f := fault.KindOf(err); f != fault.FailedPrecondition {
				t.Errorf("answered where the words are gone: %v", err)
			}
		}
	}
	// Whoever is erased here later takes the imported words along.
	to.erased["people/p0031"] = true
	for _, r := range to.recorded(t) {
		if e := r.GetEnquiry(); e.GetPerson() == "people/p0031" && e.GetQuestion() != "" {
			t.Error("the words of somebody erased can still be read")
		}
	}
}

func must1[M any](m M, err error) func(testing.TB) M {
	return func(t testing.TB) M {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
}

// What people on record said is nowhere in the store in the clear: not while it
// is staged, and not afterwards.
func TestNoWordOfAPersonIsKeptInTheClearWhileItIsImported(t *testing.T) {
	from := storied(t)
	to := newWorks(t, "Europe/London")
	to.at, to.erased["people/p0077"] = from.at, true
	look := func(when string) {
		t.Helper()
		all, err := to.Config.Store.Client().Get(t.Context(), "/", clientv3.WithPrefix())
		if err != nil || len(all.Kvs) == 0 {
			t.Fatal(err)
		}
		for _, kv := range all.Kvs {
			if bytes.Contains(kv.Value, []byte("Ivy")) {
				t.Errorf("%s, %s holds what Ivy said", when, kv.Key)
			}
		}
	}
	rows := from.recorded(t)
	if _, err := to.StageImport(engineer(t.Context()), &enquiryv1.StageImportRequest{ImportId: "one", Rows: rows}); err != nil {
		t.Fatal(err)
	}
	look("staged")
	// The same once more, sealed anew, is no other chunk; another one is.
	if _, err := to.StageImport(engineer(t.Context()), &enquiryv1.StageImportRequest{ImportId: "one", Rows: rows}); err != nil {
		t.Errorf("the same chunk again: %v", err)
	}
	if _, err := to.StageImport(engineer(t.Context()), &enquiryv1.StageImportRequest{ImportId: "one", Rows: rows[1:]}); err == nil {
		t.Error("another chunk took the place of one that is staged")
	}
	if _, err := to.CommitImport(engineer(t.Context()), &enquiryv1.CommitImportRequest{ImportId: "one", Chunks: 1}); err != nil {
		t.Fatal(err)
	}
	look("committed")
}

func TestAnImportOfEnquiriesIsRefusedWholeWithEveryFaultAtItsField(t *testing.T) {
	from := storied(t)
	rows := from.recorded(t)
	var asked *enquiryv1.Enquiry
	for _, r := range rows {
		if len(r.GetEnquiry().GetAnswers()) == 2 {
			asked = r.GetEnquiry()
		}
	}
	to := newWorks(t, "Europe/London")
	to.at = from.at
	ctx := access.NewContext(t.Context(), access.Caller{Role: access.Administrator, Bearer: "ida"})
	for _, c := range []struct {
		name  string
		spoil func(*enquiryv1.Enquiry, *enquiryv1.AnswerNote)
		want  string
	}{
		{"an answer that nobody gave, at no time, and a review by nobody", func(e *enquiryv1.Enquiry, n *enquiryv1.AnswerNote) {
			e.Answers[0].AnsweredBy, e.Answers[1].AnswerTime, n.ReviewedBy = "", nil, ""
		}, "rows[0].enquiry.answers[0].answered_by rows[0].enquiry.answers[1].answer_time rows[1].answer_note.reviewed_by"},
		{"an answer before the question", func(e *enquiryv1.Enquiry, _ *enquiryv1.AnswerNote) { e.Answers[0].AnswerTime.Seconds -= 9 * 86400 },
			"rows[0].enquiry.ask_time rows[0].enquiry.answers[0].answer_time"},
		{"asked by nobody in no way", func(e *enquiryv1.Enquiry, _ *enquiryv1.AnswerNote) { e.Channel, e.AskerKind = 0, 0 }, "rows[0].enquiry.channel rows[0].enquiry.asker_kind"},
		{"names of nothing", func(e *enquiryv1.Enquiry, n *enquiryv1.AnswerNote) { e.Name, n.Name = "enquiries/1", "notes/Drip" }, "rows[0].enquiry.name rows[1].answer_note.name"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e, n := proto.CloneOf(asked), proto.CloneOf(rows[3].GetAnswerNote())
			c.spoil(e, n)
			r := &enquiryv1.StageImportRequest{ImportId: "x", Rows: []*enquiryv1.EnquiryRow{
				{Row: &enquiryv1.EnquiryRow_Enquiry{Enquiry: e}}, {Row: &enquiryv1.EnquiryRow_AnswerNote{AnswerNote: n}}}}
			for _, only := range []bool{true, false} {
				r.ValidateOnly = only
				if _, err := to.StageImport(ctx, r); fieldNames(err) != c.want {
					t.Errorf("got %q, want %q", fieldNames(err), c.want)
				}
			}
		})
	}
	// Who is not on record is no matter while rows are only checked.
	r := &enquiryv1.StageImportRequest{ImportId: "x", Rows: rows, ValidateOnly: true}
	to.erased["people/p0031"], to.erased["people/p0077"] = true, true
	if _, err := to.StageImport(ctx, r); err != nil {
		t.Error(err)
	}
	r.ValidateOnly = false
	_, err := to.StageImport(ctx, r)
	if !strings.HasSuffix(fieldNames(err), ".enquiry.person") {
		t.Errorf("words of somebody who is not there: %v", err)
	}
	if got := to.recorded(t); len(got) != 0 {
		t.Errorf("%d were kept", len(got))
	}
}
