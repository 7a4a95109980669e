package console

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/google/uuid"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/wording"
)

// bulletins gives all versions of all bulletins.
func (c *Console) bulletins(ctx context.Context) ([]*bulletinv1.Bulletin, error) {
	return page.All(func(token string) ([]*bulletinv1.Bulletin, string, error) {
		r, err := c.Bulletins.ListBulletins(ctx, &bulletinv1.ListBulletinsRequest{PageSize: 500, PageToken: token})
		return r.GetBulletins(), r.GetNextPageToken(), err
	})
}

// ListBulletins prints all versions of all bulletins.
func (c *Console) ListBulletins(ctx context.Context) error {
	all, err := c.bulletins(ctx)
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		if len(all) == 0 {
			s.line("There are no bulletins.")
			return
		}
		rows := [][]string{{"bulletin", "version", "kind", "state", "issued", "title"}}
		for _, b := range all {
			rows = append(rows, []string{serialOf(b.GetName()), idOf(b.GetName()), word(b.GetKind(), "BULLETIN_KIND_"),
				word(b.GetState(), "BULLETIN_STATE_"), day(b.GetIssueDate()), b.GetTitle()})
		}
		s.table("", rows)
	})
}

// versionName makes a resource name of what people type: "C-2026-02" is the
// version that holds, "C-2026-02/2" the second.
func versionName(typed string) string {
	id, number, ok := strings.Cut(strings.TrimPrefix(typed, "bulletins/"), "/")
	if !ok {
		number = "-"
	}
	return "bulletins/" + id + "/versions/" + strings.TrimPrefix(number, "versions/")
}

func (c *Console) bulletin(ctx context.Context, typed string) (*bulletinv1.Bulletin, error) {
	return c.Bulletins.GetBulletin(ctx, &bulletinv1.GetBulletinRequest{Name: versionName(typed)})
}

// ShowBulletin prints a version.
func (c *Console) ShowBulletin(ctx context.Context, typed string) error {
	b, err := c.bulletin(ctx, typed)
	return c.printBulletin(b, err)
}

func (c *Console) printBulletin(b *bulletinv1.Bulletin, err error) error {
	if err != nil {
		return err
	}
	return c.print(b, func(s *sheet) { bulletinSheet(s, b) })
}

func bulletinSheet(s *sheet, b *bulletinv1.Bulletin) {
	s.line("%s, version %s: %s", serialOf(b.GetName()), idOf(b.GetName()), b.GetTitle())
	s.text("", bulletinStanding(b))
	if b.GetSample() {
		s.line("Sample, to be signed by the works' engineer.")
	} else if b.GetSignedBy() != "" {
		s.line("Signed by %s.", b.GetSignedBy())
	}
	holds := b.GetState() == bulletinv1.BulletinState_BULLETIN_STATE_DRAFT || b.GetState() == bulletinv1.BulletinState_BULLETIN_STATE_ISSUED
	if holds && b.GetStopUse() {
		s.line("STOP USE: no vehicle of the set is to be driven before the remedy.")
	}
	if holds && b.GetHoldDelivery() {
		s.line("HOLD DELIVERY: no vehicle of the set leaves the works before the remedy.")
	}
	for _, part := range [][2]string{
		{"Fault:       ", b.GetFault()}, {"Consequence: ", b.GetConsequence()}, {"Until then:  ", b.GetMeanwhile()}, {"Caution:     ", b.GetCaution()},
	} {
		if part[1] != "" {
			s.text(part[0], part[1])
		}
	}
	if set := b.GetSet(); set != nil {
		s.heading("For")
		setLines(s, set)
	}
	if len(b.GetRemedy()) > 0 {
		s.heading("Remedy")
	}
	for _, it := range b.GetRemedy() {
		remedyLines(s, it)
	}
}

func bulletinStanding(b *bulletinv1.Bulletin) string {
	kind, state := word(b.GetKind(), "BULLETIN_KIND_"), word(b.GetState(), "BULLETIN_STATE_")
	text := wording.UpperFirst(kind) + ", "
	switch issued := day(b.GetIssueDate()); {
	case issued == "":
		text += state
	case b.GetState() == bulletinv1.BulletinState_BULLETIN_STATE_ISSUED:
		text += "issued on " + issued
	default:
		text += state + "; issued on " + issued
	}
	if d := day(b.GetReportDate()); d != "" {
		text += "; reported to the authority on " + d
	}
	if b.GetWithdrawReason() != "" {
		text += "; taken back: " + b.GetWithdrawReason()
	}
	if b.GetSupersededBy() != "" {
		text += "; " + idOf(b.GetSupersededBy()) + " takes its place"
	}
	return text + "."
}

func remedyLines(s *sheet, it *bulletinv1.RemedyItem) {
	s.text("  "+it.GetItemId()+"  ", it.GetTitle())
	if it.GetMinutes() > 0 {
		s.line("      %s", plural(int(it.GetMinutes()), "minute", "minutes"))
	}
	for _, p := range it.GetParts() {
		where := ""
		if p.GetPosition() != "" {
			where = " at " + p.GetPosition()
		}
		s.line("      %d x %s%s", p.GetQuantity(), p.GetPart(), where)
	}
	for _, m := range it.GetMeasured() {
		s.line("      measure %s: %s", m.GetCharacteristic(), windowText(m))
	}
	if len(it.GetTools()) > 0 {
		s.text("      tools: ", strings.Join(it.GetTools(), ", "))
	}
	if r := it.GetReinspection(); r != nil {
		s.line("      look again after %s", reinspectionText(r))
	}
	if it.GetCaution() != "" {
		s.text("      CAUTION: ", it.GetCaution())
	}
}

func reinspectionText(r *bulletinv1.Reinspection) string {
	var limits []string
	if r.GetDays() > 0 {
		limits = append(limits, plural(int(r.GetDays()), "day", "days"))
	}
	if r.GetDistance() != nil {
		limits = append(limits, distance(r.GetDistance(), r.GetDistance().GetEnteredUnit()))
	}
	return strings.Join(limits, " or ")
}

// AddBulletin records a draft from a YAML file: a new bulletin, the next version
// of one, or a change of the draft that is open.
func (c *Console) AddBulletin(ctx context.Context, path string) error {
	b, err := readBulletin(path)
	if err != nil {
		return err
	}
	if b.GetName() == "" {
		return fault.InvalidField(path+": name", "", "the bulletin's identifier: C-2026-02")
	}
	id := serialOf(versionName(b.GetName()))
	all, err := c.bulletins(ctx)
	if err != nil {
		return err
	}
	next := 1
	for _, old := range all {
		if serialOf(old.GetName()) != id {
			continue
		}
		if old.GetState() == bulletinv1.BulletinState_BULLETIN_STATE_DRAFT {
			b.Name, b.Etag = old.GetName(), old.GetEtag()
			b, err = c.Bulletins.UpdateBulletin(ctx, &bulletinv1.UpdateBulletinRequest{Bulletin: b, RequestId: uuid.NewString()})
			return c.printBulletin(b, err)
		}
		next++
	}
	b.Name = "bulletins/" + id + "/versions/" + strconv.Itoa(next)
	b, err = c.Bulletins.CreateBulletin(ctx, &bulletinv1.CreateBulletinRequest{Bulletin: b, RequestId: uuid.NewString()})
	return c.printBulletin(b, err)
}

// IssueBulletin issues the draft of a bulletin, or the version that is named.
func (c *Console) IssueBulletin(ctx context.Context, typed string) error {
	name := versionName(typed)
	if strings.HasSuffix(name, "/-") {
		all, err := c.bulletins(ctx)
		if err != nil {
			return err
		}
		for _, b := range all {
			if serialOf(b.GetName()) == serialOf(name) {
				name = b.GetName() // the last is the draft, where there is one
			}
		}
	}
	b, err := c.Bulletins.GetBulletin(ctx, &bulletinv1.GetBulletinRequest{Name: name})
	if err != nil {
		return err
	}
	b, err = c.Bulletins.IssueBulletin(ctx, &bulletinv1.IssueBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), RequestId: uuid.NewString()})
	return c.printBulletin(b, err)
}

// WithdrawBulletin takes the version that holds back, with a reason; by names
// the bulletin that takes its place, empty for none.
func (c *Console) WithdrawBulletin(ctx context.Context, typed, reason, by string) error {
	b, err := c.bulletin(ctx, typed)
	if err != nil {
		return err
	}
	if by != "" {
		by = "bulletins/" + strings.TrimPrefix(by, "bulletins/")
	}
	b, err = c.Bulletins.WithdrawBulletin(ctx, &bulletinv1.WithdrawBulletinRequest{
		Name: b.GetName(), Etag: b.GetEtag(), Reason: reason, SupersededBy: by, RequestId: uuid.NewString()})
	return c.printBulletin(b, err)
}

// PreviewBulletin prints which vehicles a version is for, and why, and which it
// nearly is for.
func (c *Console) PreviewBulletin(ctx context.Context, typed string) error {
	var last *bulletinv1.PreviewSetResponse
	matches, err := page.All(func(token string) ([]*bulletinv1.SetMatch, string, error) {
		r, err := c.Bulletins.PreviewSet(ctx, &bulletinv1.PreviewSetRequest{Name: versionName(typed), PageSize: 500, PageToken: token})
		last = r
		return r.GetMatches(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	last.Matches = matches
	return c.print(last, func(s *sheet) {
		s.line("In: %d. Cannot be told: %d. Nearly: %d. Out: %d.", last.GetInCount(), last.GetUnknownCount(), last.GetNearCount(), last.GetOutCount())
		for _, state := range []bulletinv1.MatchState{
			bulletinv1.MatchState_MATCH_STATE_IN, bulletinv1.MatchState_MATCH_STATE_UNKNOWN, bulletinv1.MatchState_MATCH_STATE_NEAR,
		} {
			matchLines(s, state, matches)
		}
		if len(last.GetLooseUnits()) > 0 {
			s.heading("Units on no vehicle")
		}
		for _, text := range last.GetLooseUnits() {
			s.text("  ", text)
		}
		if len(last.GetMissingSerials()) > 0 {
			s.heading("Serials of no vehicle")
		}
		for _, text := range last.GetMissingSerials() {
			s.text("  ", text)
		}
	})
}

// matchHeadings say what the states mean.
var matchHeadings = map[bulletinv1.MatchState]string{
	bulletinv1.MatchState_MATCH_STATE_IN:      "In",
	bulletinv1.MatchState_MATCH_STATE_UNKNOWN: "Cannot be told: on the list until somebody has looked",
	bulletinv1.MatchState_MATCH_STATE_NEAR:    "Nearly, and not",
}

func matchLines(s *sheet, state bulletinv1.MatchState, matches []*bulletinv1.SetMatch) {
	begun := false
	for _, m := range matches {
		if m.GetState() != state {
			continue
		}
		if !begun {
			s.heading("%s", matchHeadings[state])
			begun = true
		}
		s.text(fmt.Sprintf("  %-10s", serialOf(m.GetVehicle())), m.GetSentence())
	}
}
