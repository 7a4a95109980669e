package partsrpc_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
)

func names(f *fault.Error) []string {
	var out []string
	for _, field := range f.Fields {
		out = append(out, field.Name)
	}
	return out
}

func TestAnImportTakesEffectOnceAndUpdatesWhatDiffers(t *testing.T) {
	w := start(t)
	first := must(w.load(t, "first", gearboxes()...))(t)
	if first.GetWritten() != 5 || first.GetUnchanged() != 0 {
		t.Errorf("first: %v", first)
	}
	etag := func() string {
		return must(w.GetPart(t.Context(), &partsv1.GetPartRequest{Name: "parts/AP-2000"}))(t).GetEtag()
	}
	before := etag()
	if again := must(w.load(t, "again", gearboxes()...))(t); again.GetWritten() != 0 || again.GetUnchanged() != 5 || etag() != before {
		t.Errorf("the same again: %v", again)
	}
	rows := gearboxes()
	rows[0].GetPart().Title = "Gearbox, four-speed"
	if update := must(w.load(t, "update", rows...))(t); update.GetWritten() != 1 || update.GetUnchanged() != 4 || etag() == before {
		t.Errorf("one title changed: %v", update)
	}
	p := must(w.GetPart(t.Context(), &partsv1.GetPartRequest{Name: "parts/AP-2000"}))(t)
	if p.GetTitle() != "Gearbox, four-speed" || !p.GetCreateTime().AsTime().Equal(clock()) {
		t.Errorf("got %v", p)
	}
	// A repeated commit is answered and does nothing.
	must(w.CommitImport(t.Context(), &partsv1.CommitImportRequest{ImportId: "update", Chunks: 1}))(t)
}

func TestWhatIsExportedComesBackTheSame(t *testing.T) {
	w := start(t)
	p := &partsv1.Part{
		Name: "parts/AP-1", Title: "Seal kit", Words: []string{"big seal"}, Positions: []string{"hub-front-left"}, Hand: partsv1.Hand_HAND_LEFT,
		Unit: "set", MinimumQuantity: 2, Status: partsv1.PartStatus_PART_STATUS_UNAVAILABLE, Drawing: "D-1",
		Contents: []*partsv1.KitLine{{Part: "parts/AP-2", Quantity: 2}}, RenewWith: []*partsv1.KitLine{{Part: "parts/AP-2"}},
		Releases: []string{"releases/R1"}, Caution: "Hot oil.", Notes: "n", Traits: []string{"felt"},
		CreateTime: timestamppb.New(time.Date(2011, 2, 3, 4, 5, 6, 7, time.UTC)),
	}
	s := &partsv1.Supersession{
		Name: "supersessions/S1", OldPart: "parts/AP-2", NewParts: []*partsv1.KitLine{{Part: "parts/AP-1", Quantity: 1}}, EffectiveDate: on(2019, 2, 28),
		TwoWay: true, Releases: []string{"releases/R1"}, TogetherWith: []string{"parts/AP-3"}, Text: "t", CreateTime: p.CreateTime,
	}
	must(w.load(t, "first", partRow(p), partRow(aPart("AP-2", "Seal")), partRow(aPart("AP-3", "Shim")), supersessionRow(s)))(t)
	got := must(w.GetPart(t.Context(), &partsv1.GetPartRequest{Name: p.GetName()}))(t)
	p.Etag = got.GetEtag()
	if !proto.Equal(got, p) {
		t.Errorf("got %v, want %v", got, p)
	}
	// The moment it was made outlives an update that does not say it.
	update := proto.Clone(p).(*partsv1.Part)
	update.Title, update.CreateTime = "Seal kit, felt", nil
	must(w.load(t, "update", partRow(update)))(t)
	if got := must(w.GetPart(t.Context(), &partsv1.GetPartRequest{Name: p.GetName()}))(t); !proto.Equal(got.GetCreateTime(), p.GetCreateTime()) || got.GetTitle() != update.GetTitle() {
		t.Errorf("after an update: %v", got)
	}
	list := must(w.ListSupersessions(t.Context(), &partsv1.ListSupersessionsRequest{}))(t).GetSupersessions()
	s.Etag = list[0].GetEtag()
	if len(list) != 1 || !proto.Equal(list[0], s) {
		t.Errorf("got %v, want %v", list, s)
	}
}

func TestAllThatIsWrongIsToldAtOnceAndNothingIsWritten(t *testing.T) {
	w := start(t)
	must(w.load(t, "first", gearboxes()...))(t)
	bad := aPart("AP-1", "")
	bad.MinimumQuantity = -1
	_, err := w.StageImport(t.Context(), &partsv1.StageImportRequest{ImportId: "x", Rows: []*partsv1.PartRow{partRow(bad), {}}})
	if diff := cmp.Diff([]string{"rows[parts/AP-1].title", "rows[parts/AP-1].minimum_quantity", "rows[1].row"}, names(refused(t, err, fault.Invalid, "INVALID_FIELD"))); diff != "" {
		t.Error(diff)
	}
	kit := aPart("AP-3", "Kit")
	kit.Contents = []*partsv1.KitLine{{Part: "parts/AP-404"}}
	_, err = w.load(t, "second", partRow(kit), partRow(aPart("AP2000", "Gearbox written otherwise")),
		supersessionRow(replaces("S002", "AP-2001", "AP-2000")), partRow(aPart("AP-4", "A")), partRow(aPart("AP-4", "B")))
	want := []string{"rows[parts/AP-4].name", "rows[parts/AP-2000].name", "rows[parts/AP-3].contents[0].part", "rows[supersessions/S001].new_parts"}
	if diff := cmp.Diff(want, names(refused(t, err, fault.Invalid, "INVALID_FIELD"))); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if list := must(w.ListParts(t.Context(), &partsv1.ListPartsRequest{}))(t).GetParts(); len(list) != 4 {
		t.Errorf("%d parts after a refusal", len(list))
	}
}

func TestTheCatalogueIsThereAgainAfterARestart(t *testing.T) {
	w := start(t)
	name := w.addVehicle(t, "AM0101")
	var rows []*partsv1.PartRow
	for i := range 250 {
		rows = append(rows, partRow(aPart(fmt.Sprintf("AX-%03d", i), "Part")))
	}
	if got := must(w.load(t, "many", append(rows, gearboxes()...)...))(t); got.GetWritten() != 255 {
		t.Errorf("wrote %d", got.GetWritten())
	}
	before := must(w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "gearbox"}))(t)
	w.close()
	w = open(t, w.store)
	after := must(w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "gearbox"}))(t)
	if !proto.Equal(before, after) {
		t.Errorf("got %v, before %v", after, before)
	}
	if again := must(w.load(t, "many-again", rows...))(t); again.GetWritten() != 0 || again.GetUnchanged() != 250 {
		t.Errorf("the same again: %v", again)
	}
}

// What was staged outlives a restart, and nobody sees it before the commit.
func TestAStagedImportOutlivesARestart(t *testing.T) {
	w := start(t)
	rows := gearboxes()
	must(w.StageImport(t.Context(), &partsv1.StageImportRequest{ImportId: "broken", Sequence: 0, Rows: rows[:2]}))(t)
	staged := must(w.StageImport(t.Context(), &partsv1.StageImportRequest{ImportId: "broken", Sequence: 1, Rows: rows[2:]}))(t)
	if staged.GetStagedChunks() != 2 {
		t.Errorf("%d chunks", staged.GetStagedChunks())
	}
	if list := must(w.ListParts(t.Context(), &partsv1.ListPartsRequest{}))(t).GetParts(); len(list) != 0 {
		t.Errorf("%d parts are seen before the commit", len(list))
	}
	w.close()
	w = open(t, w.store)
	if got := must(w.CommitImport(t.Context(), &partsv1.CommitImportRequest{ImportId: "broken", Chunks: 2}))(t); got.GetWritten() != 5 {
		t.Errorf("wrote %d", got.GetWritten())
	}
	if list := must(w.ListParts(t.Context(), &partsv1.ListPartsRequest{}))(t).GetParts(); len(list) != 4 {
		t.Errorf("%d parts", len(list))
	}
}
