package desk

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/wording"
)

func (v *visit) showBulletins() {
	r, err := v.d.Bulletins.ListBulletins(v.as(), &bulletinv1.ListBulletinsRequest{PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Bulletins", Heads: []string{"Bulletin", "Kind", "Stands"}, Empty: "No bulletin is on record. Write a draft: nobody is told of it before it is issued."}
	for _, b := range r.GetBulletins() {
		t.Rows = append(t.Rows, []cell{{Text: b.GetTitle(), Path: bulletinPath(b.GetName()), Sub: versionName(b.GetName())},
			{Text: word(b.GetKind(), "BULLETIN_KIND_")}, {Text: word(b.GetState(), "BULLETIN_STATE_"), Sub: onDay(b.GetIssueDate()).Long()}})
	}
	blocks := []block{{Text: []string{"Advice, and campaigns whose remedy the works must see carried out on each vehicle."}}}
	if v.engineer() {
		blocks[0].Links = []link{{Label: "Write a draft", Path: "/works/bulletins/new"}}
	}
	v.worksShow("Bulletins and campaigns", append(blocks, block{Table: t, Links: more("/works/bulletins?page=", url.QueryEscape(r.GetNextPageToken()))})...)
}

func bulletinPath(name string) string {
	return "/works/bulletins/" + url.PathEscape(serialIn(name)) + "/" + url.PathEscape(bare(name))
}

func (v *visit) bulletinName() string {
	return "bulletins/" + v.r.PathValue("bulletin") + "/versions/" + v.r.PathValue("version")
}

// bulletin is the version of the address.
func (v *visit) bulletin() (*bulletinv1.Bulletin, error) {
	return v.d.Bulletins.GetBulletin(v.as(), &bulletinv1.GetBulletinRequest{Name: v.bulletinName()})
}

// showBulletin shows a version with the vehicles it is for, and what may be done
// with it.
func (v *visit) showBulletin() {
	b, err := v.bulletin()
	if err != nil {
		v.refuse(err)
		return
	}
	r, err := v.d.Bulletins.PreviewSet(v.as(), &bulletinv1.PreviewSetRequest{Name: b.GetName(), PageSize: mostMatches, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	blocks := []block{{Facts: said(bulletinFacts(b)...)}}
	if len(b.GetRemedy()) > 0 {
		blocks = append(blocks, remedyBlock(b.GetRemedy()))
	}
	if b.GetKind() == bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN && b.GetState() == bulletinv1.BulletinState_BULLETIN_STATE_ISSUED {
		blocks[0].Links = []link{{Label: "How far the campaign has come", Path: "/fleet/campaigns/" + url.PathEscape(serialIn(b.GetName()))}}
	}
	blocks[0].Links = append(blocks[0].Links, link{Label: "All bulletins", Path: "/works/bulletins"})
	which := matchBlock(r)
	which.Links = more(bulletinPath(b.GetName())+"?page=", url.QueryEscape(r.GetNextPageToken()))
	blocks = append(blocks, which)
	if v.engineer() { // below the vehicles that it is about
		blocks = append(blocks, bulletinActs(b)...)
	}
	v.worksShow(b.GetTitle(), blocks...)
}

// mostMatches is how many vehicles of a set a page shows.
const mostMatches = 100

func bulletinFacts(b *bulletinv1.Bulletin) []fact {
	stands := word(b.GetState(), "BULLETIN_STATE_")
	if on := onDay(b.GetIssueDate()); !on.IsZero() {
		stands = yes(b.GetState() != bulletinv1.BulletinState_BULLETIN_STATE_ISSUED, stands+", ") + "issued " + on.Long()
	}
	return []fact{
		{Label: "Bulletin", Value: versionName(b.GetName())}, {Label: "Kind", Value: word(b.GetKind(), "BULLETIN_KIND_")}, {Label: "Stands", Value: stands},
		{Label: "Withdrawn because", Value: b.GetWithdrawReason()}, {Label: "Fault", Value: b.GetFault()}, {Label: "What can happen", Value: b.GetConsequence()},
		{Label: "Until then", Value: b.GetMeanwhile()}, {Label: "Caution", Value: b.GetCaution()}, {Label: "Forbids", Value: forbids(b.GetStopUse(), b.GetHoldDelivery())},
		{Label: "Fault found on", Value: onDay(b.GetDeterminedDate()).Long()}, {Label: "Reported on", Value: onDay(b.GetReportDate()).Long()},
		{Label: "Letters", Value: lettersText(b)}, {Label: "Signed by", Value: signature(b.GetSample(), b.GetSignedBy())},
	}
}

// lettersText says when owners are written to.
func lettersText(b *bulletinv1.Bulletin) string {
	if b.GetKind() != bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN {
		return ""
	}
	days := b.GetFollowUp().GetLetterDays()
	if len(days) == 0 {
		days = []int32{0, 30, 90}
	}
	var out []string
	for _, d := range days {
		out = append(out, strconv.Itoa(int(d)))
	}
	text := "on day " + strings.Join(out, ", ")
	if n := len(out) - 1; n > 0 {
		text = "on days " + strings.Join(out[:n], ", ") + " and " + out[n]
	}
	text += " after a vehicle comes on the list"
	switch n := b.GetFollowUp().GetRepeatDays(); {
	case n < 0:
		return text + ", and no more"
	case n == 0:
		return text + ", then each year"
	default:
		return text + ", then every " + wording.Count(int(n), "day")
	}
}

func remedyBlock(items []*bulletinv1.RemedyItem) block {
	out := block{Heading: "What is done"}
	for _, i := range items {
		e := entry{Term: i.GetItemId(), Text: i.GetTitle()}
		var parts []string
		for _, p := range i.GetParts() {
			parts = append(parts, strings.TrimSpace(strconv.Itoa(int(p.GetQuantity()))+" of "+p.GetPart()+yes(p.GetPosition() != "", " at "+place(p.GetPosition()))))
		}
		var about []string
		for _, text := range []string{strings.Join(parts, ", "), strings.Join(i.GetTools(), ", "), yes(i.GetMinutes() > 0, wording.Count(int(i.GetMinutes()), "minute")),
			measuredLimits(i), reinspectionText(i.GetReinspection()), yes(i.GetCaution() != "", "Caution: "+i.GetCaution())} {
			if text != "" {
				about = append(about, wording.Ended(wording.UpperFirst(text)))
			}
		}
		e.Sub = strings.Join(about, " ")
		out.List = append(out.List, e)
	}
	return out
}

func measuredLimits(i *bulletinv1.RemedyItem) string {
	var out []string
	for _, m := range i.GetMeasured() {
		out = append(out, strings.TrimSpace("measured: "+place(m.GetCharacteristic())+" "+windowText(m)))
	}
	return strings.Join(out, ", ")
}

func reinspectionText(r *bulletinv1.Reinspection) string {
	var out []string
	if r.GetDays() > 0 {
		out = append(out, wording.Count(int(r.GetDays()), "day"))
	}
	if d := entered(r.GetDistance()); d != "" {
		out = append(out, d)
	}
	if len(out) == 0 {
		return ""
	}
	return "looked at again after " + strings.Join(out, " or ")
}

// matchBlock lists the vehicles of a set, with why each is in, near or unknown.
func matchBlock(r *bulletinv1.PreviewSetResponse) block {
	t := &table{Caption: "Vehicles", Heads: []string{"Vehicle", "Is", "Why"}, Empty: "It is for no vehicle that is on record. Look at the conditions again."}
	for _, m := range r.GetMatches() {
		serial := serialIn(m.GetVehicle())
		t.Rows = append(t.Rows, []cell{{Text: serial, Path: vehiclePath(serial), Mono: true}, {Text: setWords[m.GetState()], Tight: true}, {Text: m.GetSentence()}})
	}
	counts := strconv.Itoa(int(r.GetInCount())) + " in, " + strconv.Itoa(int(r.GetUnknownCount())) + " that cannot be told, " +
		strconv.Itoa(int(r.GetNearCount())) + " near, " + strconv.Itoa(int(r.GetOutCount())) + " out."
	return block{Heading: "Which vehicles", Text: slices.Concat([]string{counts}, r.GetMissingSerials(), r.GetLooseUnits()), Table: t}
}

var setWords = map[bulletinv1.MatchState]string{
	bulletinv1.MatchState_MATCH_STATE_IN: "in", bulletinv1.MatchState_MATCH_STATE_UNKNOWN: "cannot be told",
	bulletinv1.MatchState_MATCH_STATE_NEAR: "near, not in", bulletinv1.MatchState_MATCH_STATE_OUT: "out",
}

// bulletinActs are what an engineer may do with a version.
func bulletinActs(b *bulletinv1.Bulletin) []block {
	etag := field{Name: "etag", Type: "hidden", Value: b.GetEtag()}
	switch b.GetState() {
	case bulletinv1.BulletinState_BULLETIN_STATE_DRAFT:
		return []block{{Heading: "Issue", Text: []string{"You are told first how many vehicles and letters that means."},
			Form:  &form{ID: "issue", Action: bulletinPath(b.GetName()) + "/issue", Submit: "Issue it", Fields: []field{etag}},
			Links: []link{{Label: "Change the draft", Path: bulletinPath(b.GetName()) + "/draft"}}}}
	case bulletinv1.BulletinState_BULLETIN_STATE_ISSUED:
		return []block{{Heading: "Withdraw", Form: withdrawForm(b),
			Links: []link{{Label: "Write the next version", Path: "/works/bulletins/new?of=" + url.QueryEscape(b.GetName())}}}}
	}
	return nil
}

func withdrawForm(b *bulletinv1.Bulletin) *form {
	return &form{ID: "withdraw", Action: bulletinPath(b.GetName()) + "/withdraw", Submit: "Withdraw it", Grave: true, Fields: []field{
		{Name: "etag", Type: "hidden", Value: b.GetEtag()}, requestField(),
		{Name: "reason", Label: "Why", Type: "text", Autocomplete: "off", Required: true, Hint: "The vehicles of a campaign are called off with it."},
		{Name: "superseded_by", Label: "What takes its place", Type: "text", Autocomplete: "off", Hint: "Another bulletin that is issued, as in C-2026-05; empty for none."}}}
}

// issueReach is how many vehicles an issue puts on the list, and whom letters
// reach.
type issueReach struct{ vehicles, letters, unowned int }

// issueReachOf counts them, from the set and from who is tied to the vehicles
// today: letters about a campaign go to all of them, once each.
func (v *visit) issueReachOf(name string) (issueReach, error) {
	var out issueReach
	on, err := v.listedBy(name)
	if err != nil {
		return out, err
	}
	out.vehicles = len(on)
	told, owned := map[[2]string]bool{}, map[string]bool{}
	err = page.Each(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := v.d.Owners.ListTies(v.as(), &ownerv1.ListTiesRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	}, func(t *ownerv1.Tie) error {
		if serial := serialIn(t.GetName()); on[serial] && holds(t, v.today()) {
			told[[2]string{serial, t.GetPerson()}] = true
			owned[serial] = true
		}
		return nil
	})
	out.letters, out.unowned = len(told), len(on)-len(owned)
	return out, err
}

// listedBy are the vehicles that a version puts on the list: those in its set, and
// those of which it cannot be told.
func (v *visit) listedBy(name string) (map[string]bool, error) {
	on := map[string]bool{}
	err := page.Each(func(token string) ([]*bulletinv1.SetMatch, string, error) {
		r, err := v.d.Bulletins.PreviewSet(v.as(), &bulletinv1.PreviewSetRequest{Name: name, PageSize: 500, PageToken: token,
			States: []bulletinv1.MatchState{bulletinv1.MatchState_MATCH_STATE_IN, bulletinv1.MatchState_MATCH_STATE_UNKNOWN}})
		return r.GetMatches(), r.GetNextPageToken(), err
	}, func(m *bulletinv1.SetMatch) error {
		on[serialIn(m.GetVehicle())] = true
		return nil
	})
	return on, err
}

// issueBulletin asks first: an issued version never changes, and letters follow.
func (v *visit) issueBulletin() {
	if !v.readForm() {
		return
	}
	if v.value("sure") == "" {
		v.confirmIssue()
		return
	}
	_, err := v.d.Bulletins.IssueBulletin(v.as(), &bulletinv1.IssueBulletinRequest{Name: v.bulletinName(), Etag: v.value("etag"), RequestId: v.request()})
	v.done(err, bulletinPath(v.bulletinName())+"?done=issued")
}

func (v *visit) confirmIssue() {
	b, err := v.bulletin()
	if err != nil {
		v.refuse(err)
		return
	}
	n, err := v.issueReachOf(b.GetName())
	if err != nil {
		v.refuse(err)
		return
	}
	text := []string{"It is for " + wording.Count(n.vehicles, "vehicle") + ". Once issued it never changes; a later version can take its place."}
	if b.GetKind() == bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN {
		text[0] = wording.Count(n.vehicles, "vehicle") + " would come on its list. Once issued it never changes; a later version can take its place."
		text = append(text, "Letters would go to everybody tied to them, by the way each reads soonest: "+wording.Count(n.letters, "letter")+firstLetter(b)+".")
		if n.unowned > 0 {
			text = append(text, wording.Count(n.unowned, "vehicle")+" would stay on the list without a letter: nobody knows whose they are. A task asks to find out.")
		}
		text = append(text, "Unsubscribing from reminders does not stop these letters.")
	}
	if forbidden := forbids(b.GetStopUse(), b.GetHoldDelivery()); forbidden != "nothing" {
		text = append(text, "It forbids "+forbidden+" from then on.")
	}
	v.render(http.StatusOK, view{Title: "Issue " + versionName(b.GetName()) + "?", Blocks: []block{{
		Text: text, Form: &form{ID: "sure", Action: v.r.URL.Path, Submit: "Yes, issue it", Grave: true, Fields: []field{
			{Name: "sure", Type: "hidden", Value: "yes"}, {Name: "etag", Type: "hidden", Value: v.value("etag")}, requestField()}},
		Links: []link{{Label: "Leave it a draft", Path: bulletinPath(b.GetName())}},
	}}})
}

// firstLetter says when the first letter goes out where that is not at once.
func firstLetter(b *bulletinv1.Bulletin) string {
	if days := b.GetFollowUp().GetLetterDays(); len(days) > 0 && days[0] > 0 {
		return ", " + wording.Count(int(days[0]), "day") + " after the issue"
	}
	return " with the next pass"
}

func (v *visit) withdrawBulletin() {
	if !v.readForm() {
		return
	}
	after := ""
	if id := bare(v.value("superseded_by")); id != "" {
		after = "bulletins/" + id
	}
	_, err := v.d.Bulletins.WithdrawBulletin(v.as(), &bulletinv1.WithdrawBulletinRequest{Name: v.bulletinName(), Reason: v.value("reason"), SupersededBy: after,
		Etag: v.value("etag"), RequestId: v.request()})
	if err == nil {
		v.goTo(bulletinPath(v.bulletinName()) + "?done=withdrawn")
		return
	}
	b, errShown := v.bulletin()
	if errShown != nil {
		v.refuse(errShown)
		return
	}
	f := withdrawForm(b).filled(v)
	v.againPointed(err, f, nil, func(status int) {
		v.worksForm(status, "Withdraw "+versionName(b.GetName()), f, link{Label: "Back to the bulletin", Path: bulletinPath(b.GetName())})
	})
}
