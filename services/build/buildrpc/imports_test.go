package buildrpc_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// bring imports rows, in chunks of three.
func bring(t testing.TB, w *works, id string, rows []*buildv1.BuildRow) (*buildv1.CommitImportResponse, error) {
	t.Helper()
	n := 0
	for chunk := range slices.Chunk(rows, 3) {
		must(w.StageImport(t.Context(), &buildv1.StageImportRequest{ImportId: id, Sequence: int32(n), Rows: chunk}))(t)
		n++
	}
	return w.CommitImport(t.Context(), &buildv1.CommitImportRequest{ImportId: id, Chunks: int32(n)})
}

func changeRow(c *buildv1.Change) *buildv1.BuildRow {
	return &buildv1.BuildRow{Row: &buildv1.BuildRow_Change{Change: c}}
}

// everything is what one works exports: releases, builds, changes, amendments.
func everything(t testing.TB, w *works) []*buildv1.BuildRow {
	t.Helper()
	var rows []*buildv1.BuildRow
	for _, r := range must(w.ListReleases(t.Context(), &buildv1.ListReleasesRequest{}))(t).GetReleases() {
		rows = append(rows, &buildv1.BuildRow{Row: &buildv1.BuildRow_Release{Release: r}})
	}
	builds := must(w.ListBuilds(t.Context(), &buildv1.ListBuildsRequest{PageSize: 500}))(t).GetBuilds()
	for _, b := range builds {
		rows = append(rows, &buildv1.BuildRow{Row: &buildv1.BuildRow_Build{Build: b}})
	}
	for _, b := range builds {
		for _, c := range must(w.ListChanges(t.Context(), &buildv1.ListChangesRequest{Parent: b.GetName()}))(t).GetChanges() {
			rows = append(rows, changeRow(c))
		}
		for _, a := range must(w.ListAmendments(t.Context(), &buildv1.ListAmendmentsRequest{Parent: b.GetName()}))(t).GetAmendments() {
			rows = append(rows, &buildv1.BuildRow{Row: &buildv1.BuildRow_Amendment{Amendment: a}})
		}
	}
	return rows
}

func TestWhatIsExportedComesBackAsItWas(t *testing.T) {
	w := startWithFleet(t)
	must(w.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{
		Source: "builds/AM0147P", SourcePosition: "gearbox", Destination: "builds/AM0148N", MoveDate: on(2020, 1, 1), Reason: "exchange",
	}))(t)
	b := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0149L"}))(t)
	b.Plate = "AB 1"
	must(w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "plate forgotten"}))(t)
	before := everything(t, w)

	other := start(t)
	got := must(bring(t, other, "i1", before))(t)
	if got.GetWritten() != int32(len(before)) || got.GetUnchanged() != 0 {
		t.Errorf("got %v, want %d written", got, len(before))
	}
	after := everything(t, other)
	if len(after) != len(before) {
		t.Fatalf("%d records came back of %d", len(after), len(before))
	}
	for i := range after {
		clearEtag(before[i])
		clearEtag(after[i])
		if !proto.Equal(before[i], after[i]) {
			t.Errorf("got  %v\nwant %v", after[i], before[i])
		}
	}
	again := must(bring(t, other, "i2", before))(t)
	if again.GetWritten() != 0 || again.GetUnchanged() != int32(len(before)) {
		t.Errorf("the same again: got %v", again)
	}
	// The claims came along: a component on one vehicle is not free for another.
	b = proto.CloneOf(fleet(t).GetRows()[5].GetBuild())
	b.Name, b.Components[0].Serial = "builds/AM0150Z", "GB-1190"
	_, err := other.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: b})
	refused(t, err, fault.FailedPrecondition, "COMPONENT_ELSEWHERE")
}

func clearEtag(r *buildv1.BuildRow) {
	if b := r.GetBuild(); b != nil {
		b.Etag = ""
	}
	if b := r.GetRelease(); b != nil {
		b.Etag = ""
	}
}

func TestACommittedImportMayBeCommittedAgain(t *testing.T) {
	w := start(t)
	must(bring(t, w, "i1", fleet(t).GetRows()))(t)
	must(w.CommitImport(t.Context(), &buildv1.CommitImportRequest{ImportId: "i1", Chunks: 2}))(t)
	if n := len(must(w.ListBuilds(t.Context(), &buildv1.ListBuildsRequest{}))(t).GetBuilds()); n != 3 {
		t.Errorf("got %d vehicles, want 3", n)
	}
}

func TestAnImportIsRefusedAsAWholeWithEveryRowNamed(t *testing.T) {
	w := startWithFleet(t)
	changed := proto.CloneOf(fleet(t).GetRows()[3])
	changed.GetBuild().Plate = "OTHER"
	thief := proto.CloneOf(fleet(t).GetRows()[5])
	thief.GetBuild().Name, thief.GetBuild().Components[0].Serial = "builds/AM0150Z", "GB-1207"
	unbuilt := proto.CloneOf(fleet(t).GetRows()[5])
	unbuilt.GetBuild().Name, unbuilt.GetBuild().Release, unbuilt.GetBuild().Components = "builds/AM0151X", "releases/R9", nil
	rows := []*buildv1.BuildRow{
		changed, thief, unbuilt, proto.CloneOf(thief),
		changeRow(&buildv1.Change{Name: "builds/AM0013G/changes/c1", Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: on(2020, 1, 1)}),
		changeRow(&buildv1.Change{Name: "builds/AM0147P/changes/c1", Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: on(2027, 1, 1)}),
	}
	_, err := bring(t, w, "i1", rows)
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	var got []string
	for _, field := range f.Fields {
		got = append(got, field.Name)
	}
	want := []string{
		"rows[builds/AM0147P]", "rows[builds/AM0151X].release", "rows[builds/AM0150Z]", "rows[builds/AM0013G/changes/c1].name",
		"rows[builds/AM0147P/changes/c1].change_date", "rows[builds/AM0150Z].components[gearbox].serial",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
	if n := len(must(w.ListBuilds(t.Context(), &buildv1.ListBuildsRequest{}))(t).GetBuilds()); n != 3 {
		t.Errorf("%d vehicles: something was written", n)
	}
}

func TestARowThatIsWrongByItselfIsNotStaged(t *testing.T) {
	w := start(t)
	rows := []*buildv1.BuildRow{
		{}, fleet(t).GetRows()[0],
		{Row: &buildv1.BuildRow_Build{Build: &buildv1.Build{Name: "builds/AM0147Q", Release: "releases/R1", BuildDate: on(2012, 1, 1)}}},
		changeRow(&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: on(2020, 1, 1)}),
	}
	_, err := w.StageImport(t.Context(), &buildv1.StageImportRequest{ImportId: "i1", Rows: rows})
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	var got []string
	for _, field := range f.Fields {
		got = append(got, field.Name)
	}
	if want := []string{"rows[0]", "rows[2].build.name", "rows[3].change.name"}; !slices.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}

// serials gives the first n serials that may be issued.
func serials(t testing.TB, n int) []vehicle.Serial {
	t.Helper()
	var all []vehicle.Serial
	for i := 1; len(all) < n; i++ {
		if s, err := vehicle.NewSerial(fmt.Sprintf("RW%06d", i)); err == nil {
			all = append(all, s)
		}
	}
	return all
}

// many makes n vehicles with components and changes, as rows of an import.
func many(t testing.TB, n int) []*buildv1.BuildRow {
	t.Helper()
	rows := slices.Clone(fleet(t).GetRows()[:3])
	var changes []*buildv1.BuildRow
	for i, serial := range serials(t, n) {
		b := proto.CloneOf(fleet(t).GetRows()[3].GetBuild())
		b.Name, b.FrameNumber = "builds/"+string(serial), fmt.Sprintf("FN %05d", i)
		for j, c := range b.GetComponents() {
			if c.GetSerial() != "" {
				c.Serial = fmt.Sprintf("U%d-%05d", j, i)
			}
		}
		rows = append(rows, &buildv1.BuildRow{Row: &buildv1.BuildRow_Build{Build: b}})
		for year := range int32(5) {
			changes = append(changes, changeRow(&buildv1.Change{
				Name: fmt.Sprintf("builds/%s/changes/c%d", serial, year), Kind: buildv1.ChangeKind_CHANGE_KIND_FIT,
				Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2014+year, 1, 1),
				Component: &buildv1.Component{Position: "shock-absorbers", Lot: fmt.Sprintf("S%d", year)},
			}))
		}
	}
	return append(rows, changes...)
}

// bringAll imports rows in full chunks.
func bringAll(t testing.TB, w *works, rows []*buildv1.BuildRow) {
	t.Helper()
	n := 0
	for len(rows) > 0 {
		size := 0
		take := 0
		for take < len(rows) && take < 100 && size < 150<<10 {
			size += proto.Size(rows[take])
			take++
		}
		must(w.StageImport(t.Context(), &buildv1.StageImportRequest{ImportId: "all", Sequence: int32(n), Rows: rows[:take]}))(t)
		rows = rows[take:]
		n++
	}
	commit := &buildv1.CommitImportRequest{ImportId: "all", Chunks: int32(n)}
	for {
		_, err := w.CommitImport(t.Context(), commit)
		if err == nil {
			return
		}
		// The server caps a call; the import goes on where it stood.
		if !strings.Contains(err.Error(), "deadline") && !strings.Contains(err.Error(), "OUTCOME_UNKNOWN") && !strings.Contains(err.Error(), "no answer") {
			t.Fatal(err)
		}
	}
}

func TestManyVehiclesComeInWholeChunksWithTheirOrderKept(t *testing.T) {
	w := start(t)
	bringAll(t, w, many(t, 120))
	if got := must(w.ListBuilds(t.Context(), &buildv1.ListBuildsRequest{PageSize: 500}))(t).GetBuilds(); len(got) != 120 {
		t.Fatalf("got %d vehicles, want 120", len(got))
	}
	name := "builds/" + string(serials(t, 120)[119])
	changes := must(w.ListChanges(t.Context(), &buildv1.ListChangesRequest{Parent: name}))(t).GetChanges()
	if len(changes) != 5 {
		t.Fatalf("got %d changes, want 5", len(changes))
	}
	for i := 1; i < len(changes); i++ {
		if !changes[i].GetCreateTime().AsTime().After(changes[i-1].GetCreateTime().AsTime()) {
			t.Errorf("change %d was not recorded after the one before", i)
		}
	}
}
