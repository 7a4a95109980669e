package partsrpc_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
)

func gearboxes() []*partsv1.PartRow {
	return []*partsv1.PartRow{
		partRow(aPart("AP-2000", "Gearbox")), partRow(aPart("AP-2001", "Gearbox, wide ratio")), partRow(aPart("AP-2999", "Gearbox, other make")),
		partRow(aPart("AP-7000", "Fan belt")), supersessionRow(replaces("S001", "AP-2000", "AP-2001")),
	}
}

func TestAnAnswerFollowsTheCatalogueAndTheVehicle(t *testing.T) {
	w := start(t)
	name := w.addVehicle(t, "AM0101")
	ask := func(question string) *partsv1.PartAnswer {
		t.Helper()
		return must(w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: question}))(t)
	}
	if a := ask("gearbox"); a.GetRefusal().GetRule() != "NO_SUCH_PART" {
		t.Errorf("with an empty catalogue: %v", a)
	}
	must(w.load(t, "first", gearboxes()...))(t)
	a := ask(" Gear  box ")
	if c := a.GetChoices(); len(c) != 1 || c[0].GetOrder().GetName() != "parts/AP-2001" || c[0].GetQuantity() != 1 ||
		c[0].GetSpecifiedPart() != "AP-2000" || len(c[0].GetSupersessions()) != 1 || c[0].GetOrder().GetEtag() == "" {
		t.Errorf("got %v", a)
	}
	if a.GetBuild() != name || !proto.Equal(a.GetOnDate(), on(2026, 11, 25)) {
		t.Errorf("for %v on %v", a.GetBuild(), a.GetOnDate())
	}
	// A change that was just recorded counts in the next answer, without waiting.
	for i, part := range []string{"AP-2999", "AP-2000", "AP-2999"} {
		must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: name, Change: &buildv1.Change{
			Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_CAMPAIGN, ChangeDate: on(2020, 1, int32(i+1)),
			Component: &buildv1.Component{Position: "gearbox", Part: part}, Reason: "a trial",
		}}))(t)
		want := map[string]string{"AP-2999": "parts/AP-2999", "AP-2000": "parts/AP-2001"}[part]
		if a := ask("gearbox"); len(a.GetChoices()) != 1 || a.GetChoices()[0].GetOrder().GetName() != want {
			t.Errorf("after %s was fitted: %v", part, a)
		}
	}
	before := must(w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "gearbox", OnDate: on(2015, 1, 1)}))(t)
	if c := before.GetChoices(); len(c) != 1 || c[0].GetOrder().GetName() != "parts/AP-2000" {
		t.Errorf("in 2015: %v", before)
	}
}

func TestASerialIsAcceptedAsItIsSpoken(t *testing.T) {
	w := start(t)
	name := w.addVehicle(t, "AM0101")
	must(w.load(t, "first", gearboxes()...))(t)
	spoken := "builds/" + strings.ToLower(name[len("builds/"):len("builds/")+2]) + "-" + name[len("builds/")+2:]
	if a := must(w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: spoken, Question: "fan-belt"}))(t); a.GetBuild() != name {
		t.Errorf("%q is answered for %q", spoken, a.GetBuild())
	}
	_, err := w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: "builds/" + serial(t, "AM0102"), Question: "gearbox"})
	refused(t, err, fault.NotFound, "BUILD_NOT_FOUND")
	_, err = w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name[:len(name)-1] + "0", Question: "gearbox"})
	refused(t, err, fault.Invalid, "SERIAL_CHECK")
	_, err = w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "  "})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	_, err = w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: strings.Repeat("x", 201)})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	_, err = w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "gearbox", OnDate: on(2012, 5, 31)})
	refused(t, err, fault.FailedPrecondition, "NOT_BUILT_YET")
	_, err = w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "gearbox", OnDate: on(2026, 2, 30)})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestAPartIsGotWithOrWithoutSeparators(t *testing.T) {
	w := start(t)
	must(w.load(t, "first", gearboxes()...))(t)
	for _, name := range []string{"parts/AP-2000", "parts/ap2000", "parts/AP.20 00"} {
		if p := must(w.GetPart(t.Context(), &partsv1.GetPartRequest{Name: name}))(t); p.GetName() != "parts/AP-2000" {
			t.Errorf("%s gives %s", name, p.GetName())
		}
	}
	_, err := w.GetPart(t.Context(), &partsv1.GetPartRequest{Name: "parts/AP-200"})
	refused(t, err, fault.NotFound, "PART_NOT_FOUND")
	_, err = w.GetPart(t.Context(), &partsv1.GetPartRequest{Name: "AP-2000"})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestListsGoPageByPageInOrder(t *testing.T) {
	w := start(t)
	var rows []*partsv1.PartRow
	var want []string
	for i := range 7 {
		rows = append(rows, partRow(aPart(fmt.Sprintf("AP-%d", 9-i), "Part")))
		want = append(want, fmt.Sprintf("parts/AP-%d", i+3))
	}
	rows = append(rows, supersessionRow(replaces("S2", "AP-3", "AP-4")), supersessionRow(replaces("S1", "AP-4", "AP-5")))
	must(w.load(t, "first", rows...))(t)
	var got []string
	req := &partsv1.ListPartsRequest{PageSize: 3}
	for pages := 1; ; pages++ {
		resp := must(w.ListParts(t.Context(), req))(t)
		for _, p := range resp.GetParts() {
			got = append(got, p.GetName())
		}
		if req.PageToken = resp.GetNextPageToken(); req.PageToken == "" {
			if pages != 3 {
				t.Errorf("%d pages", pages)
			}
			break
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %v", got)
	}
	first := must(w.ListSupersessions(t.Context(), &partsv1.ListSupersessionsRequest{PageSize: 1}))(t)
	second := must(w.ListSupersessions(t.Context(), &partsv1.ListSupersessionsRequest{PageSize: 1, PageToken: first.GetNextPageToken()}))(t)
	if first.GetSupersessions()[0].GetName() != "supersessions/S1" || second.GetSupersessions()[0].GetName() != "supersessions/S2" || second.GetNextPageToken() != "" {
		t.Errorf("got %v, then %v", first, second)
	}
	about := func(part string) (names []string) {
		for token := ""; ; {
			r := must(w.ListSupersessions(t.Context(), &partsv1.ListSupersessionsRequest{Part: part, PageSize: 1, PageToken: token}))(t)
			for _, x := range r.GetSupersessions() {
				names = append(names, x.GetName())
			}
			if token = r.GetNextPageToken(); token == "" {
				return names
			}
		}
	}
	for _, x := range []*partsv1.Supersession{first.GetSupersessions()[0], second.GetSupersessions()[0]} {
		if got := about(x.GetOldPart()); !slices.Contains(got, x.GetName()) {
			t.Errorf("about %s: %v without %s", x.GetOldPart(), got, x.GetName())
		}
		if got := about(x.GetNewParts()[0].GetPart()); !slices.Contains(got, x.GetName()) {
			t.Errorf("about %s: %v without %s", x.GetNewParts()[0].GetPart(), got, x.GetName())
		}
	}
	if got := about("parts/NONE"); len(got) != 0 {
		t.Errorf("about none: %v", got)
	}
	_, err := w.ListSupersessions(t.Context(), &partsv1.ListSupersessionsRequest{Part: "AP-2041"})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	_, err = w.ListParts(t.Context(), &partsv1.ListPartsRequest{PageToken: first.GetNextPageToken()})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}
