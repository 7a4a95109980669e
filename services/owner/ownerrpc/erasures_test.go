package ownerrpc_test

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/etcdtest"
)

func TestAPersonIsErasedByTheAdministratorAlone(t *testing.T) {
	client, key := etcdtest.Client(t), keyFile(t)
	h := open(t, client, key)
	ctx, works := h.works()
	mine := &ownerv1.CreatePersonRequest{Person: person("p1"), RequestId: uuid(1)}
	p, err := works.CreatePerson(ctx, mine)
	if err != nil {
		t.Fatal(err)
	}
	others := &ownerv1.CreatePersonRequest{Person: person("p2"), RequestId: uuid(2)}
	other, err := works.CreatePerson(ctx, others)
	if err != nil {
		t.Fatal(err)
	}
	vehicle := "vehicles/" + serial(t, "AM0147")
	h.tie(t, vehicle[len("vehicles/"):], "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	ownCtx, own := h.owner("people/p1")
	offer, err := own.OfferTransfer(ownCtx, &ownerv1.OfferTransferRequest{Parent: vehicle, OfferedBy: "people/p1"})
	if err != nil {
		t.Fatal(err)
	}
	request := &ownerv1.ErasePersonRequest{Name: "people/p1", Etag: p.GetEtag(), Ground: "asked for on 20 November 2026", RequestId: uuid(3)}
	deskCtx, desk := h.desk()
	_, err = desk.ErasePerson(deskCtx, request)
	wantReason(t, err, codes.PermissionDenied, "ROLE_MAY_NOT")
	_, err = works.ErasePerson(ctx, request)
	wantReason(t, err, codes.FailedPrecondition, "PERSON_TIED")
	request.EndTies = true
	stale := proto.Clone(request).(*ownerv1.ErasePersonRequest)
	stale.Etag = other.GetEtag()
	_, err = works.ErasePerson(ctx, stale)
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	unfounded := proto.Clone(request).(*ownerv1.ErasePersonRequest)
	unfounded.Ground = ""
	_, err = works.ErasePerson(ctx, unfounded)
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	if got, err := works.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p1"}); err != nil || !proto.Equal(got, p) {
		t.Fatalf("a refused erasure changed something: %v, %v", got, err)
	}

	e, err := works.ErasePerson(ctx, request)
	if err != nil || e.GetName() != "erasures/p1" || e.GetDestroyedMasterKey() == "" || e.GetDestroyedMasterKey() == e.GetNewMasterKey() || e.GetRecordedBy() != "works" {
		t.Fatal(e, err)
	}
	for range 2 {
		ctx, works := h.works()
		if again, err := works.ErasePerson(ctx, request); err != nil || !proto.Equal(again, e) {
			t.Errorf("again: got %v, %v", again, err)
		}
		list, err := works.ListErasures(ctx, &ownerv1.ListErasuresRequest{})
		if err != nil || len(list.GetErasures()) != 1 || !proto.Equal(list.GetErasures()[0], e) {
			t.Errorf("got %v, %v", list, err)
		}
		_, err = works.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p1"})
		wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
		// The answers that were kept go with the person, and stay with others.
		_, err = works.CreatePerson(ctx, mine)
		wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
		if again, err := works.CreatePerson(ctx, others); err != nil || !proto.Equal(again, other) {
			t.Errorf("another's request again: got %v, %v, want %v", again, err, other)
		}
		_, err = works.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: person("p1")})
		wantReason(t, err, codes.AlreadyExists, "PERSON_ERASED")
		wantReason(t, h.accept(vehicle, offer.GetCode()), codes.FailedPrecondition, "TRANSFER_CODE_WRONG")
		if got := h.lasting(t, vehicle); got != "" {
			t.Errorf("tied are %s", got)
		}
		h.close()
		h = open(t, client, key)
	}
	_, err = h.load(t, "back", []*ownerv1.OwnerRow{personRow(person("p1"))})
	if err == nil || !strings.Contains(err.Error(), "never used again") {
		t.Errorf("imported again: got %v", err)
	}
}

func TestAnImportThatAnErasureComesBetweenIsStagedAgain(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	p := h.create(t, "p1")
	ctx, works := h.works()
	rows := []*ownerv1.OwnerRow{personRow(person("p7"))}
	stage := &ownerv1.StageImportRequest{ImportId: "i1", Rows: rows}
	if _, err := works.StageImport(ctx, stage); err != nil {
		t.Fatal(err)
	}
	if _, err := works.ErasePerson(ctx, &ownerv1.ErasePersonRequest{Name: "people/p1", Etag: p.GetEtag(), Ground: "asked for"}); err != nil {
		t.Fatal(err)
	}
	commit := &ownerv1.CommitImportRequest{ImportId: "i1", Chunks: 1}
	_, err := works.CommitImport(ctx, commit)
	wantReason(t, err, codes.FailedPrecondition, "CHUNK_MISSING")
	if _, err := works.StageImport(ctx, stage); err != nil {
		t.Fatal(err)
	}
	if r, err := works.CommitImport(ctx, commit); err != nil || r.GetWritten() != 1 {
		t.Errorf("got %v, %v", r, err)
	}
}

func TestConsentsAndStandingsAreImportedOnce(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	v := serial(t, "AM0147")
	consent := &ownerv1.Consent{
		Name: "people/p1/consents/c1", Purpose: ownerv1.Purpose_PURPOSE_YEAR_LETTER, Given: true, Wording: "Yes.",
		ConsentTime: timestamppb.New(today.AddDate(-3, 0, 0)), Source: ownerv1.ConsentSource_CONSENT_SOURCE_PAPER,
	}
	standing := &ownerv1.Standing{Name: "vehicles/" + v + "/standing", State: ownerv1.StandingState_STANDING_STATE_EXPORTED, SinceDate: day(2024, 1, 1)}
	rows := func() []*ownerv1.OwnerRow {
		return []*ownerv1.OwnerRow{
			personRow(person("p1")),
			{Row: &ownerv1.OwnerRow_Consent{Consent: consent}}, {Row: &ownerv1.OwnerRow_Standing{Standing: standing}},
		}
	}
	if r, err := h.load(t, "i1", rows()); err != nil || r.GetWritten() != 3 {
		t.Fatal(r, err)
	}
	ctx, desk := h.desk()
	p, err := desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p1"})
	if err != nil || len(p.GetConsents()) != 1 || p.GetConsents()[0].GetName() != consent.GetName() || p.GetConsents()[0].GetRecordedBy() != "works" {
		t.Errorf("got %v, %v", p.GetConsents(), err)
	}
	n, err := desk.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: standing.GetName()})
	if err != nil || n.GetState() != standing.GetState() || n.GetRecordedBy() != "works" || !n.GetUpdateTime().AsTime().Equal(today) {
		t.Errorf("got %v, %v", n, err)
	}
	if r, err := h.load(t, "i2", rows()); err != nil || r.GetWritten() != 0 || r.GetUnchanged() != 3 {
		t.Errorf("the second time: got %v, %v", r, err)
	}
	standing.State, standing.Note = ownerv1.StandingState_STANDING_STATE_SCRAPPED, "seen"
	if r, err := h.load(t, "i3", rows()); err != nil || r.GetWritten() != 1 {
		t.Errorf("another standing: got %v, %v", r, err)
	}
	consent.Given = false
	_, err = h.load(t, "i4", rows())
	if err == nil || !strings.Contains(err.Error(), "rows[people/p1/consents/c1].name: got") {
		t.Errorf("another consent of the same name: got %v", err)
	}
	consent.Name = "people/p9/consents/c1"
	_, err = h.load(t, "i5", []*ownerv1.OwnerRow{{Row: &ownerv1.OwnerRow_Consent{Consent: consent}}})
	if err == nil || !strings.Contains(err.Error(), "a person who is there") {
		t.Errorf("nobody's consent: got %v", err)
	}
}

// photo is a picture of a size with an edge in it.
func photo(w, h int) image.Image {
	p := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			p.Set(x, y, color.RGBA{uint8(255 * (2 * x / w)), 90, 40, 255})
		}
	}
	return p
}

func TestAPhotographIsKeptSealedAndGivenBack(t *testing.T) {
	key := keyFile(t)
	h := open(t, etcdtest.Client(t), key)
	h.create(t, "p1")
	h.create(t, "p2")
	vehicle := "vehicles/" + serial(t, "AM0147")
	h.tie(t, vehicle[len("vehicles/"):], "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	var file bytes.Buffer
	if err := png.Encode(&file, photo(2000, 1000)); err != nil {
		t.Fatal(err)
	}
	ctx, own := h.owner("people/p1")
	request := &ownerv1.StoreDocumentRequest{
		Parent: "people/p1", Document: &ownerv1.Document{Vehicle: vehicle, Title: "odometer"}, Content: file.Bytes(), RequestId: uuid(1),
	}
	d, err := own.StoreDocument(ctx, request)
	if err != nil || d.GetMediaType() != "image/jpeg" || d.GetVehicle() != vehicle || d.GetTitle() != "odometer" || !d.GetCreateTime().AsTime().Equal(today) {
		t.Fatal(d, err)
	}
	if again, err := own.StoreDocument(ctx, request); err != nil || !proto.Equal(again, d) {
		t.Errorf("again: got %v, %v", again, err)
	}
	got, err := own.GetDocument(ctx, &ownerv1.GetDocumentRequest{Name: d.GetName()})
	if err != nil || !proto.Equal(got.GetDocument(), d) || int64(len(got.GetContent())) != d.GetSizeBytes() {
		t.Fatal(got.GetDocument(), err)
	}
	if p, err := jpeg.DecodeConfig(bytes.NewReader(got.GetContent())); err != nil || p.Width != 1600 || p.Height != 800 {
		t.Errorf("got %v, %v", p, err)
	}
	list, err := own.ListDocuments(ctx, &ownerv1.ListDocumentsRequest{Parent: "people/p1"})
	if err != nil || len(list.GetDocuments()) != 1 || !proto.Equal(list.GetDocuments()[0], d) {
		t.Errorf("got %v, %v", list, err)
	}
	otherCtx, other := h.owner("people/p2")
	_, err = other.GetDocument(otherCtx, &ownerv1.GetDocumentRequest{Name: d.GetName()})
	wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")

	// On the disk it is noise, for its owner alone, and moved elsewhere it does
	// not open.
	path := filepath.Join(filepath.Dir(key), "documents", "p1", filepath.Base(d.GetName()))
	raw, err := os.ReadFile(path)
	if err != nil || bytes.Contains(raw, []byte("JFIF")) || bytes.Contains(raw, got.GetContent()[:16]) {
		t.Errorf("the file: %v", err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file: %v, %v", info.Mode(), err)
	}
	raw[20] ^= 1
	if err := os.WriteFile(path, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	_, err = own.GetDocument(ctx, &ownerv1.GetDocumentRequest{Name: d.GetName()})
	wantReason(t, err, codes.Internal, "DOCUMENT_DAMAGED")
	_, err = own.GetDocument(ctx, &ownerv1.GetDocumentRequest{Name: "people/p1/documents/none"})
	wantReason(t, err, codes.NotFound, "DOCUMENT_NOT_FOUND")
}

func TestWhatIsNoPhotographIsRefused(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	ctx, desk := h.desk()
	for name, r := range map[string]*ownerv1.StoreDocumentRequest{
		"nothing":      {Parent: "people/p1"},
		"a text":       {Parent: "people/p1", Content: []byte("not a picture")},
		"too large":    {Parent: "people/p1", Content: make([]byte, 900<<10+1)},
		"no vehicle":   {Parent: "people/p1", Document: &ownerv1.Document{Vehicle: "vehicles/AM0147X"}, Content: []byte("x")},
		"a long title": {Parent: "people/p1", Document: &ownerv1.Document{Title: strings.Repeat("x", 101)}, Content: []byte("x")},
	} {
		if _, err := desk.StoreDocument(ctx, r); err == nil {
			t.Errorf("%s is kept", name)
		}
	}
	_, err := desk.StoreDocument(context.Background(), &ownerv1.StoreDocumentRequest{Parent: "people/p9", Content: []byte("x")})
	if err == nil {
		t.Error("nobody's document is kept")
	}
}
