package buildrpc_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

const (
	id1 = "0190c5a2-7f3e-4b1d-9a44-2f6f0e6b8c11"
	id2 = "0190c5a2-7f3e-4b1d-9a44-2f6f0e6b8c12"
)

func TestABuildIsReadBackUnderAnySpokenFormOfItsSerial(t *testing.T) {
	w := startWithFleet(t)
	var first *buildv1.Build
	for _, name := range []string{"builds/AM0147P", "builds/am0147p", "builds/AM 0147 P", "builds/am-0147-p"} {
		got := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: name}))(t)
		if first == nil {
			first = got
		}
		if diff := cmp.Diff(first, got, protocmp.Transform()); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
	if first.GetName() != "builds/AM0147P" || first.GetEtag() == "" || first.GetCreateTime() == nil {
		t.Errorf("got %v", first)
	}
	_, err := w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0147Q"})
	refused(t, err, fault.Invalid, "SERIAL_CHECK")
	_, err = w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0013G"})
	f := refused(t, err, fault.NotFound, "BUILD_NOT_FOUND")
	if f.Message != "There is no vehicle AM0013G here." {
		t.Errorf("message %q", f.Message)
	}
}

func TestCreateBuildRefusesWhatDoesNotHold(t *testing.T) {
	w := startWithFleet(t)
	b := fleet(t).GetRows()[3].GetBuild()
	_, err := w.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: b})
	refused(t, err, fault.AlreadyExists, "BUILD_EXISTS")

	other := proto.CloneOf(b)
	other.Name, other.Release, other.AxleRatio = "builds/AM0150Z", "releases/R9", "4,70"
	other.BuildDate, other.Options = nil, nil
	_, err = w.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: other})
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	var got []string
	for _, field := range f.Fields {
		got = append(got, field.Name)
	}
	if want := []string{"build.axle_ratio", "build.release", "build.build_date"}; !slices.Equal(got, want) {
		t.Errorf("fields: got %v, want %v", got, want)
	}
	for _, id := range []string{"x", strings.Repeat("a", 36)} {
		_, err = w.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: other, RequestId: id})
		refused(t, err, fault.Invalid, "INVALID_FIELD")
	}
}

func TestAComponentThatStandsOnAnotherVehicleIsRefused(t *testing.T) {
	w := startWithFleet(t)
	b := proto.CloneOf(fleet(t).GetRows()[5].GetBuild())
	b.Name = "builds/AM0150Z"
	b.Components[0].Serial = "gb 1190" // AM0147P has GB-1190
	_, err := w.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: b})
	f := refused(t, err, fault.FailedPrecondition, "COMPONENT_ELSEWHERE")
	if len(f.Fields) != 1 || f.Fields[0].Name != "build.components[gearbox].serial" || !strings.Contains(f.Fields[0].Want, "builds/AM0147P at gearbox since 2012-04-10") {
		t.Errorf("got %+v", f.Fields)
	}
}

func TestARepeatedRequestGetsTheFirstAnswer(t *testing.T) {
	w := startWithFleet(t)
	b := proto.CloneOf(fleet(t).GetRows()[5].GetBuild())
	b.Name, b.Components = "builds/AM0150Z", nil
	request := &buildv1.CreateBuildRequest{Build: b, RequestId: id1}
	first := must(w.CreateBuild(t.Context(), request))(t)
	w.now.Add(100)
	again := must(w.CreateBuild(t.Context(), request))(t)
	if diff := cmp.Diff(first, again, protocmp.Transform()); diff != "" {
		t.Errorf("create again: %s", diff)
	}
	if read := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: b.GetName()}))(t); read.GetEtag() != first.GetEtag() {
		t.Errorf("etag answered %s, read %s", first.GetEtag(), read.GetEtag())
	}
	other := proto.CloneOf(request)
	other.Build.Plate = "ELSE"
	_, err := w.CreateBuild(t.Context(), other)
	refused(t, err, fault.Invalid, "REQUEST_ID_REUSED")

	change := &buildv1.RecordChangeRequest{Parent: "builds/AM0150Z", RequestId: id2, Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: on(2020, 1, 1), Plate: "AB 1",
	}}
	once := must(w.RecordChange(t.Context(), change))(t)
	twice := must(w.RecordChange(t.Context(), change))(t)
	all := must(w.ListChanges(t.Context(), &buildv1.ListChangesRequest{Parent: "builds/AM0150Z"}))(t)
	if !proto.Equal(once, twice) || len(all.GetChanges()) != 1 {
		t.Errorf("a change recorded twice: %v, %v; %d stored", once, twice, len(all.GetChanges()))
	}
}

func TestAnAmendmentKeepsTheFormerRecordAndNeedsItsEtag(t *testing.T) {
	w := startWithFleet(t)
	b := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0147P"}))(t)
	before := proto.CloneOf(b)
	b.Components[0].Lot = "L08"
	a := must(w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "the lot was misread"}))(t)
	if len(a.GetFields()) != 1 || a.GetFields()[0].GetPath() != "components[gearbox].lot" || a.GetFields()[0].GetBefore() != "L07" || a.GetFields()[0].GetAfter() != "L08" {
		t.Errorf("fields: got %v", a.GetFields())
	}
	before.Etag = ""
	if diff := cmp.Diff(before, a.GetBefore(), protocmp.Transform()); diff != "" {
		t.Errorf("the record before: %s", diff)
	}
	if a.GetAuthor() != "drawing office" {
		t.Errorf("author %q", a.GetAuthor())
	}
	_, err := w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "again"})
	refused(t, err, fault.Aborted, "ETAG_MISMATCH")

	now := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0147P"}))(t)
	if now.GetComponents()[0].GetLot() != "L08" || !proto.Equal(now.GetCreateTime(), before.GetCreateTime()) {
		t.Errorf("the record after: %v", now)
	}
	_, err = w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: now, Reason: "no difference"})
	refused(t, err, fault.Invalid, "NOTHING_AMENDED")
	now.Plate = "AB 1"
	_, err = w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: now, Reason: " "})
	refused(t, err, fault.Invalid, "INVALID_FIELD")

	// The record of the vehicle as built follows the correction.
	c := must(w.GetConfiguration(t.Context(), &buildv1.GetConfigurationRequest{Name: "builds/AM0147P", AsBuilt: true}))(t)
	for _, f := range c.GetFitted() {
		if f.GetComponent().GetPosition() == "gearbox" && f.GetComponent().GetLot() != "L08" {
			t.Errorf("as built: %v", f)
		}
	}
	list := must(w.ListAmendments(t.Context(), &buildv1.ListAmendmentsRequest{Parent: "builds/AM0147P"}))(t)
	if len(list.GetAmendments()) != 1 || !proto.Equal(list.GetAmendments()[0], a) {
		t.Errorf("listed: %v", list.GetAmendments())
	}
}

func TestAnAmendmentFreesAndClaimsComponents(t *testing.T) {
	w := startWithFleet(t)
	b := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0147P"}))(t)
	b.Components[0].Serial = "GB-1207" // which AM0148N has
	_, err := w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "misread"})
	refused(t, err, fault.FailedPrecondition, "COMPONENT_ELSEWHERE")

	other := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0148N"}))(t)
	other.Components[0].Serial = "GB-1208"
	must(w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: other, Reason: "misread"}))(t)
	must(w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "misread"}))(t)
}

func TestAReleaseIsFrozen(t *testing.T) {
	w := startWithFleet(t)
	r := must(w.GetRelease(t.Context(), &buildv1.GetReleaseRequest{Name: "releases/R1"}))(t)
	_, err := w.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: r})
	refused(t, err, fault.AlreadyExists, "RELEASE_EXISTS")
	_, err = w.GetRelease(t.Context(), &buildv1.GetReleaseRequest{Name: "releases/R9"})
	refused(t, err, fault.NotFound, "RELEASE_NOT_FOUND")
	list := must(w.ListReleases(t.Context(), &buildv1.ListReleasesRequest{PageSize: 2}))(t)
	rest := must(w.ListReleases(t.Context(), &buildv1.ListReleasesRequest{PageSize: 2, PageToken: list.GetNextPageToken()}))(t)
	if len(list.GetReleases()) != 2 || len(rest.GetReleases()) != 1 || rest.GetReleases()[0].GetName() != "releases/R3" || rest.GetNextPageToken() != "" {
		t.Errorf("pages of %d and %d", len(list.GetReleases()), len(rest.GetReleases()))
	}
}

func TestListBuildsPagesThroughAllSerialsInOrder(t *testing.T) {
	w := startWithFleet(t)
	var got []string
	for token := ""; ; {
		list := must(w.ListBuilds(t.Context(), &buildv1.ListBuildsRequest{PageSize: 2, PageToken: token}))(t)
		for _, b := range list.GetBuilds() {
			got = append(got, b.GetName())
		}
		if token = list.GetNextPageToken(); token == "" {
			break
		}
	}
	if want := []string{"builds/AM0147P", "builds/AM0148N", "builds/AM0149L"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	_, err := w.ListBuilds(t.Context(), &buildv1.ListBuildsRequest{PageToken: "nonsense"})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestAVehicleIsFoundExactlyOrNotAtAll(t *testing.T) {
	w := startWithFleet(t)
	for _, c := range []struct{ query, want string }{
		{"am 0147 p", "builds/AM0147P serial AM0147P false"},
		{"2417", "builds/AM0147P frame number FN 2417-066 false; builds/AM0148N frame number FN 2417-099 false"},
		{"xk 88", "builds/AM0149L frame number XK/880 false"},
		{"tc-2333", "builds/AM0148N component serial TC-2333 false"},
		{"l09", "builds/AM0148N lot L09 false"},
		{"qa147x", "builds/AM0147P plate QA 147 X false"},
		{"AM0013G", ""}, // right in form, and no such vehicle
		{"nothing", ""},
	} {
		got := must(w.FindBuilds(t.Context(), &buildv1.FindBuildsRequest{Query: c.query}))(t)
		var lines []string
		for _, m := range got.GetMatches() {
			lines = append(lines, fmt.Sprintf("%s %s %s %v", m.GetBuild(), m.GetMatchedBy(), m.GetMatchedText(), m.GetFormer()))
		}
		if text := strings.Join(lines, "; "); text != c.want {
			t.Errorf("%q: got %q, want %q", c.query, text, c.want)
		}
		if got.GetSerialRefusal() != "" || len(got.GetNearSerials()) > 0 {
			t.Errorf("%q: refused as a serial: %v", c.query, got)
		}
	}
	_, err := w.FindBuilds(t.Context(), &buildv1.FindBuildsRequest{Query: "a-1"})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestAMisheardSerialOpensNothingAndOnlyStaffLearnWhatIsNear(t *testing.T) {
	w := startWithFleet(t)
	for _, c := range []struct {
		query string
		role  access.Role
		near  []string
	}{
		{"AM0147Q", access.Support, []string{"builds/AM0147P"}},
		{"AMO147P", access.Support, []string{"builds/AM0147P"}}, // O typed for 0
		{"AM0174P", access.Engineer, []string{"builds/AM0147P"}},
		{"AM01?7P", access.Administrator, []string{"builds/AM0147P"}},
		{"AM0147Q", access.Dealer, nil},
		{"AM0147Q", access.Owner, nil},
		{"AM0147Q", access.Nobody, nil},
	} {
		w.caller.Store(&access.Caller{Role: c.role})
		got := must(w.FindBuilds(t.Context(), &buildv1.FindBuildsRequest{Query: c.query}))(t)
		if len(got.GetMatches()) > 0 || !strings.HasPrefix(got.GetSerialRefusal(), "Heard A M ") || !slices.Equal(got.GetNearSerials(), c.near) {
			t.Errorf("%s as %s: got %v", c.query, c.role, got)
		}
		if c.near == nil && strings.Contains(got.GetSerialRefusal(), "AM0147P") {
			t.Errorf("%s as %s: the refusal names a vehicle: %s", c.query, c.role, got.GetSerialRefusal())
		}
	}
}

func TestTheServiceReadsItsStoreAgainAfterARestart(t *testing.T) {
	w := startWithFleet(t)
	before := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0148N"}))(t)
	again := open(t, w.store)
	after := must(again.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0148N"}))(t)
	if diff := cmp.Diff(before, after, protocmp.Transform()); diff != "" {
		t.Error(diff)
	}
}
