package works_test

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/works"
)

// TestTheDemosPromisesAndCampaignsTellTheirStories looks whether what STORIES.md
// says of cover and campaigns is so.
func TestTheDemosPromisesAndCampaignsTellTheirStories(t *testing.T) {
	_, ctx, c := startDemo(t, works.Config{})
	if err := works.LoadCover(ctx, c); err != nil {
		t.Fatal(err)
	}
	if err := works.LoadBulletins(ctx, c, filepath.Join(t.TempDir(), "bulletins")); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]warrantyv1.CoverState{
		"vehicles/AM0164N/covers/vehicle": warrantyv1.CoverState_COVER_STATE_COVERED,
		"vehicles/AM0160V/covers/battery": warrantyv1.CoverState_COVER_STATE_COVERED,
		"vehicles/AM0101G/covers/vehicle": warrantyv1.CoverState_COVER_STATE_NOT_COVERED,
		"vehicles/AM0142Z/covers/chassis": warrantyv1.CoverState_COVER_STATE_COVERED, // six years from early 2021
		"vehicles/AM0142Z/covers/vehicle": warrantyv1.CoverState_COVER_STATE_NOT_COVERED,
	} {
		if got, err := c.Warranties.GetCover(ctx, &warrantyv1.GetCoverRequest{Name: name}); err != nil || got.GetState() != want || !got.GetSample() {
			t.Errorf("%s: %v, %v: %s", name, got.GetState(), err, got.GetSentence())
		}
	}
	for id, want := range map[string]struct{ in, unknown, near string }{
		"C-2026-01": {"AM0101G AM0102E AM0103C AM01066", "", "AM01058"},
		"C-2026-02": {"AM0156N AM0157L AM0160V", "", "AM0151X"},
		"A-2026-01": {"AM0137T AM0147P AM0149L AM0150Z AM0155P AM0156N AM0157L", "AM0101G AM01146 AM0119X AM01218 AM01226 AM01330", "AM01250"},
	} {
		r, err := c.Bulletins.PreviewSet(ctx, &bulletinv1.PreviewSetRequest{Name: "bulletins/" + id + "/versions/1", PageSize: 500})
		stand := map[bulletinv1.MatchState][]string{}
		for _, m := range r.GetMatches() {
			stand[m.GetState()] = append(stand[m.GetState()], strings.TrimPrefix(m.GetVehicle(), "vehicles/"))
		}
		in, unknown := strings.Join(stand[bulletinv1.MatchState_MATCH_STATE_IN], " "), strings.Join(stand[bulletinv1.MatchState_MATCH_STATE_UNKNOWN], " ")
		if err != nil || in != want.in || unknown != want.unknown || !slices.Contains(stand[bulletinv1.MatchState_MATCH_STATE_NEAR], want.near) {
			t.Errorf("%s: in %s, unknown %s, near %v, %v", id, in, unknown, stand[bulletinv1.MatchState_MATCH_STATE_NEAR], err)
		}
	}
	for name, want := range map[string]bulletinv1.FollowUpState{
		"vehicles/AM0101G/followUps/C-2026-01": bulletinv1.FollowUpState_FOLLOW_UP_STATE_BOOKED,
		"vehicles/AM01066/followUps/C-2026-01": bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN,
		"vehicles/AM0157L/followUps/C-2026-02": bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN,
	} {
		got, err := c.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: name})
		if err != nil || got.GetState() != want || got.GetStopUse() != strings.HasSuffix(name, "C-2026-02") {
			t.Errorf("%s: %v, stop-use %v, %v", name, got.GetState(), got.GetStopUse(), err)
		}
	}
}
