package desk

import (
	"net/http"
	"net/url"
	"strconv"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
)

// worksRoutes are the pages about what the works has laid down.
func worksRoutes() []Route {
	return []Route{
		{"GET /works", Staff, (*visit).showWorks},
		{"GET /works/releases", Staff, (*visit).showReleases},
		{"GET /works/releases/{release}", Staff, (*visit).showRelease},
		{"GET /works/parts", Staff, (*visit).showPartSearch},
		{"GET /works/parts/{part}", Staff, (*visit).showPart},
		{"GET /works/bulletins", Staff, (*visit).showBulletins},
		{"GET /works/bulletins/{bulletin}/{version}", Staff, (*visit).showBulletin},
		{"POST /works/bulletins/{bulletin}/{version}/issue", Engineers, (*visit).issueBulletin},
		{"POST /works/bulletins/{bulletin}/{version}/withdraw", Engineers, (*visit).withdrawBulletin},
	}
}

func (v *visit) worksPage(status int, title string, blocks ...block) {
	blocks = append(blocks, block{Links: []link{{Label: "Everything about the works", Path: "/works"}}})
	v.render(status, view{Title: title, Wide: true, Note: v.note(), Blocks: blocks})
}

func (v *visit) showWorks() {
	links := []link{{Label: "Releases", Path: "/works/releases"}, {Label: "Parts", Path: "/works/parts"}, {Label: "Bulletins and campaigns", Path: "/works/bulletins"}}
	if v.signed.Account.GetRole() == accessv1.Role_ROLE_ADMINISTRATOR {
		links = append(links, administration...)
	}
	v.show("The works", block{Text: []string{"What vehicles are built to, what goes into them, and what was learned since."}, Links: links})
}

func (v *visit) showReleases() {
	r, err := v.d.Builds.ListReleases(v.as(), &buildv1.ListReleasesRequest{PageSize: mostRows, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Releases", Heads: []string{"Release", "Built from", "Positions"}, Empty: "No release is on record."}
	for _, x := range r.GetReleases() {
		t.Rows = append(t.Rows, []cell{{Text: bare(x.GetName()), Path: "/works/releases/" + url.PathEscape(bare(x.GetName())), Sub: x.GetTitle()},
			{Text: onDay(x.GetEffectiveDate()).Long()}, {Text: strconv.Itoa(len(x.GetFitments()))}})
	}
	v.worksPage(http.StatusOK, "Releases", block{Table: t, Links: more("/works/releases?page=", url.QueryEscape(r.GetNextPageToken()))})
}

func (v *visit) showRelease() {
	x, err := v.d.Builds.GetRelease(v.as(), &buildv1.GetReleaseRequest{Name: "releases/" + v.r.PathValue("release")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "What stands where", Heads: []string{"Position", "Part", "How many"}, Empty: "Nothing is laid down."}
	for _, f := range x.GetFitments() {
		t.Rows = append(t.Rows, []cell{{Text: upperFirst(place(f.GetPosition())), Sub: f.GetNote()}, partCell(f.GetPart()), {Text: strconv.Itoa(max(1, int(f.GetQuantity())))}})
	}
	options := &table{Caption: "Options", Heads: []string{"Option", "What it is"}, Empty: "It has no options."}
	for _, o := range x.GetOptions() {
		options.Rows = append(options.Rows, []cell{{Text: o.GetOptionId()}, {Text: o.GetTitle()}})
	}
	facts := []fact{{Label: "Built from", Value: onDay(x.GetEffectiveDate()).Long()}, {Label: "Programme", Value: bare(x.GetProgramme())}, {Label: "Axle ratio", Value: x.GetDriveline().GetAxleRatio()}}
	v.worksPage(http.StatusOK, bare(x.GetName())+": "+x.GetTitle(), block{Facts: facts}, block{Heading: "What stands where", Table: t}, block{Heading: "Options", Table: options})
}

func partCell(number string) cell {
	return cell{Text: number, Path: "/works/parts/" + url.PathEscape(number), Mono: true}
}

func (v *visit) showPartSearch() {
	words := v.r.URL.Query().Get("q")
	blocks := []block{{Form: &form{ID: "search", Action: "/works/parts", Get: true, Submit: "Search", Fields: []field{
		{Name: "q", Label: "Number or words", Type: "text", Value: words, Autocomplete: "off"}}}}}
	if words != "" {
		r, err := v.d.Parts.SearchParts(v.as(), &partsv1.SearchPartsRequest{Query: words, PageSize: 50})
		if err != nil {
			v.refuse(err)
			return
		}
		t := &table{Caption: "Parts", Heads: []string{"Part", "What it is"}, Empty: "No part answers to that."}
		for _, f := range r.GetFound() {
			t.Rows = append(t.Rows, []cell{partCell(bare(f.GetPart().GetName())), {Text: f.GetPart().GetTitle()}})
		}
		blocks = append(blocks, block{Heading: "Found", Table: t})
	}
	v.worksPage(http.StatusOK, "Parts", blocks...)
}

func (v *visit) showPart() {
	number := v.r.PathValue("part")
	p, err := v.d.Parts.GetPart(v.as(), &partsv1.GetPartRequest{Name: "parts/" + number})
	if err != nil {
		v.refuse(err)
		return
	}
	r, err := v.d.Parts.ListUses(v.as(), &partsv1.ListUsesRequest{Part: number, PageSize: mostRows, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	facts := []fact{{Label: "Number", Value: number, Mono: true}, {Label: "On how many today", Value: plural(int(r.GetHasCount()), "vehicle")}}
	if p.GetCaution() != "" {
		facts = append(facts, fact{Label: "Caution", Value: p.GetCaution()})
	}
	t := &table{Caption: "Where it is", Heads: []string{"Vehicle", "Position", "From", "Until"}, Empty: "It is on no vehicle that is on record."}
	for _, u := range r.GetUses() {
		serial := serialIn(u.GetBuild())
		t.Rows = append(t.Rows, []cell{{Text: serial, Path: vehiclePath(serial), Mono: true}, {Text: place(u.GetPosition())}, {Text: onDay(u.GetFromDate()).Long()}, {Text: onDay(u.GetUntilDate()).Long()}})
	}
	v.worksPage(http.StatusOK, p.GetTitle(), block{Facts: facts}, block{Heading: "Where it is and was", Table: t, Links: more("/works/parts/"+url.PathEscape(number)+"?page=", url.QueryEscape(r.GetNextPageToken()))})
}

func (v *visit) showBulletins() {
	r, err := v.d.Bulletins.ListBulletins(v.as(), &bulletinv1.ListBulletinsRequest{PageSize: mostRows, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Bulletins", Heads: []string{"Bulletin", "Kind", "Stands"}, Empty: "No bulletin is on record."}
	for _, b := range r.GetBulletins() {
		t.Rows = append(t.Rows, []cell{{Text: b.GetTitle(), Path: bulletinPath(b.GetName()), Sub: serialIn(b.GetName()) + ", version " + bare(b.GetName())},
			{Text: word(b.GetKind(), "BULLETIN_KIND_")}, {Text: word(b.GetState(), "BULLETIN_STATE_"), Sub: onDay(b.GetIssueDate()).Long()}})
	}
	v.worksPage(http.StatusOK, "Bulletins and campaigns", block{Table: t, Links: more("/works/bulletins?page=", url.QueryEscape(r.GetNextPageToken()))})
}

func bulletinPath(name string) string {
	return "/works/bulletins/" + url.PathEscape(serialIn(name)) + "/" + url.PathEscape(bare(name))
}

func (v *visit) bulletinName() string {
	return "bulletins/" + v.r.PathValue("bulletin") + "/versions/" + v.r.PathValue("version")
}

// showBulletin shows a version with the vehicles it is for, and what may be done
// with it.
func (v *visit) showBulletin() {
	b, err := v.d.Bulletins.GetBulletin(v.as(), &bulletinv1.GetBulletinRequest{Name: v.bulletinName()})
	if err != nil {
		v.refuse(err)
		return
	}
	r, err := v.d.Bulletins.PreviewSet(v.as(), &bulletinv1.PreviewSetRequest{Name: b.GetName(), PageSize: mostRows, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	facts := []fact{{Label: "Stands", Value: word(b.GetState(), "BULLETIN_STATE_")}, {Label: "Fault", Value: b.GetFault()}, {Label: "What can happen", Value: b.GetConsequence()},
		{Label: "Until then", Value: b.GetMeanwhile()}, {Label: "Caution", Value: b.GetCaution()}, {Label: "Forbids", Value: forbids(b.GetStopUse(), b.GetHoldDelivery())}}
	t := &table{Caption: "Vehicles", Heads: []string{"Vehicle", "Is", "Why"}, Empty: "It is for no vehicle that is on record."}
	for _, m := range r.GetMatches() {
		serial := serialIn(m.GetVehicle())
		t.Rows = append(t.Rows, []cell{{Text: serial, Path: vehiclePath(serial), Mono: true}, {Text: word(m.GetState(), "MATCH_STATE_")}, {Text: m.GetSentence()}})
	}
	counts := strconv.Itoa(int(r.GetInCount())) + " in, " + strconv.Itoa(int(r.GetUnknownCount())) + " that cannot be told, " + strconv.Itoa(int(r.GetNearCount())) + " near, " + strconv.Itoa(int(r.GetOutCount())) + " out."
	blocks := []block{{Facts: facts}, {Heading: "Which vehicles", Text: append([]string{counts}, r.GetLooseUnits()...), Table: t, Links: more(bulletinPath(b.GetName())+"?page=", url.QueryEscape(r.GetNextPageToken()))}}
	if v.signed.Account.GetRole() != accessv1.Role_ROLE_SUPPORT {
		blocks = append(blocks, bulletinActs(b)...)
	}
	v.worksPage(http.StatusOK, b.GetTitle(), blocks...)
}

func bulletinActs(b *bulletinv1.Bulletin) []block {
	hidden := []field{{Name: "etag", Type: "hidden", Value: b.GetEtag()}, requestField()}
	switch b.GetState() {
	case bulletinv1.BulletinState_BULLETIN_STATE_DRAFT:
		return []block{{Heading: "Issue", Text: []string{"From then on it never changes. The owners of a campaign's vehicles are written to by the next pass."},
			Form: &form{ID: "issue", Action: bulletinPath(b.GetName()) + "/issue", Submit: "Issue it", Fields: hidden}}}
	case bulletinv1.BulletinState_BULLETIN_STATE_ISSUED:
		return []block{{Heading: "Withdraw", Form: &form{ID: "withdraw", Action: bulletinPath(b.GetName()) + "/withdraw", Submit: "Withdraw it", Grave: true, Fields: append(hidden,
			field{Name: "reason", Label: "Why", Type: "text", Autocomplete: "off", Required: true})}}}
	}
	return nil
}

func (v *visit) issueBulletin() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Bulletins.IssueBulletin(v.as(), &bulletinv1.IssueBulletinRequest{Name: v.bulletinName(), Etag: v.value("etag"), RequestId: v.request()})
	v.done(err, bulletinPath(v.bulletinName())+"?done=issued")
}

func (v *visit) withdrawBulletin() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Bulletins.WithdrawBulletin(v.as(), &bulletinv1.WithdrawBulletinRequest{Name: v.bulletinName(), Reason: v.value("reason"), Etag: v.value("etag"), RequestId: v.request()})
	v.done(err, bulletinPath(v.bulletinName())+"?done=withdrawn")
}
