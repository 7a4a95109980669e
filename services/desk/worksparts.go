package desk

import (
	"cmp"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"

	"halfshaft/services/wording"
)

func partPath(name string) string { return "/works/parts/" + url.PathEscape(bare(name)) }

func partCell(name string) cell {
	return cell{Text: bare(name), Path: partPath(name), Mono: true}
}

// mostFoundParts is how many parts a search shows.
const mostFoundParts = 50

func (v *visit) showPartSearch() {
	words := v.r.URL.Query().Get("q")
	blocks := []block{{Form: &form{ID: "search", Action: "/works/parts", Get: true, Submit: "Search", Fields: []field{
		{Name: "q", Label: "Number or words", Type: "search", Value: words, Autocomplete: "off", Hint: "As in AP-2041, swivel seal. A misspelling finds too."}}},
		Links: []link{{Label: "All supersessions", Path: "/works/supersessions"}}}}
	if words != "" {
		r, err := v.d.Parts.SearchParts(v.as(), &partsv1.SearchPartsRequest{Query: words, PageSize: mostFoundParts})
		if err != nil {
			v.refuse(err)
			return
		}
		t := &table{Caption: "Parts", Heads: []string{"Part", "What it is", "To be had"}, Empty: "No part answers to that. Try fewer words, or a part of the number."}
		for _, f := range r.GetFound() {
			p := f.GetPart()
			t.Rows = append(t.Rows, []cell{partCell(p.GetName()), {Text: p.GetTitle()}, {Text: partStatus(p)}})
		}
		found := block{Heading: "Found", Table: t}
		if len(t.Rows) == mostFoundParts {
			found.Text = []string{"These are the first " + strconv.Itoa(mostFoundParts) + ": more words narrow it down."}
		}
		blocks = append(blocks, found)
	}
	v.worksShow("Parts", blocks...)
}

func partStatus(p *partsv1.Part) string {
	if p.GetStatus() == partsv1.PartStatus_PART_STATUS_UNAVAILABLE && p.GetDrawing() != "" {
		return "no more; remade after drawing " + p.GetDrawing()
	}
	words := map[partsv1.PartStatus]string{
		partsv1.PartStatus_PART_STATUS_ORDERABLE: "yes", partsv1.PartStatus_PART_STATUS_USE_UP: "while stock lasts", partsv1.PartStatus_PART_STATUS_UNAVAILABLE: "no more",
	}
	return cmp.Or(words[p.GetStatus()], "not recorded")
}

// showPart shows a part: what it is, what took its place, where it belongs, and
// where it is.
func (v *visit) showPart() {
	p, err := v.d.Parts.GetPart(v.as(), &partsv1.GetPartRequest{Name: "parts/" + v.r.PathValue("part")})
	if err != nil {
		v.refuse(err)
		return
	}
	supersessions, err := v.d.Parts.ListSupersessions(v.as(), &partsv1.ListSupersessionsRequest{Part: p.GetName(), PageSize: mostRows})
	if err != nil {
		v.refuse(err)
		return
	}
	applications, err := v.d.Parts.ListApplications(v.as(), &partsv1.ListApplicationsRequest{Part: p.GetName(), PageSize: mostRows})
	if err != nil {
		v.refuse(err)
		return
	}
	number := bare(p.GetName())
	uses, err := v.d.Parts.ListUses(v.as(), &partsv1.ListUsesRequest{Part: p.GetName(), PageSize: mostUses, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	facts := append([]fact{{Label: "Number", Value: number, Mono: true}}, said(partFacts(p)...)...)
	facts = append(facts, fact{Label: "On how many today", Value: wording.Count(int(uses.GetHasCount()), "vehicle")})
	v.worksShow(p.GetTitle(), block{Facts: facts},
		block{Heading: "What took its place, and whose place it took", Table: supersessionTable(supersessions.GetSupersessions(), "It took no other's place, and none took its.")},
		block{Heading: "Where it belongs", Table: applicationTable(applications.GetApplications())},
		block{Heading: "Where it is and was", Table: usesTable(uses.GetUses()), Links: more(partPath(number)+"?page=", url.QueryEscape(uses.GetNextPageToken()))})
}

// mostUses is how many uses a page shows.
const mostUses = 100

func partFacts(p *partsv1.Part) []fact {
	var sizes []string
	for _, d := range p.GetDimensions() {
		sizes = append(sizes, d.GetTitle()+" "+d.GetSize())
	}
	return []fact{
		{Label: "Caution", Value: p.GetCaution()}, {Label: "To be had", Value: partStatus(p)}, {Label: "One is", Value: p.GetUnit()},
		{Label: "Ordered at least", Value: yes(p.GetMinimumQuantity() > 1, strconv.Itoa(int(p.GetMinimumQuantity())))},
		{Label: "Hand", Value: yes(p.GetHand() > 0, word(p.GetHand(), "HAND_"))}, {Label: "Drawing", Value: p.GetDrawing()},
		{Label: "Sizes", Value: strings.Join(sizes, ", ")}, {Label: "Weight", Value: quantity(p.GetWeight())},
		{Label: "In the kit", Value: kitText(p.GetContents())}, {Label: "Renewed with it", Value: kitText(p.GetRenewWith())},
		{Label: "Also known as", Value: strings.Join(p.GetWords(), ", ")}, {Label: "Other numbers", Value: strings.Join(p.GetOtherNumbers(), ", ")},
		{Label: "Notes", Value: p.GetNotes()},
	}
}

func kitText(lines []*partsv1.KitLine) string {
	var out []string
	for _, l := range lines {
		out = append(out, strings.TrimSpace(strconv.Itoa(max(1, int(l.GetQuantity())))+" of "+bare(l.GetPart())+" "+l.GetTitle()))
	}
	return strings.Join(out, ", ")
}

func supersessionTable(all []*partsv1.Supersession, empty string) *table {
	t := &table{Caption: "Supersessions", Heads: []string{"Goes", "Comes", "From", "Why", "Stock of the old"}, Empty: empty}
	for _, s := range all {
		goes := cell{Text: bare(s.GetOldPart()), Path: partPath(s.GetOldPart()), Mono: true}
		if also := bareAll(s.GetAlsoOldParts()); len(also) > 0 {
			goes.Sub = "with " + strings.Join(also, ", ")
		}
		comes := cell{Text: "nothing"}
		if lines := s.GetNewParts(); len(lines) == 1 && lines[0].GetQuantity() < 2 {
			comes = partCell(lines[0].GetPart())
		} else if len(lines) > 0 {
			comes = cell{Text: kitText(lines), Path: partPath(lines[0].GetPart())}
		}
		comes.Sub = supersessionTies(s)
		// Beside numbers as long as they may be, a day in one line is wider than the page.
		from := cell{Text: civil(s.GetEffectiveDate()), Tight: len(goes.Text)+len(comes.Text) < 40}
		t.Rows = append(t.Rows, []cell{goes, comes, from, {Text: s.GetText()}, {Text: orNothing(stockText(s))}})
	}
	return t
}

// supersessionTies says where a supersession holds.
func supersessionTies(s *partsv1.Supersession) string {
	var out []string
	if len(s.GetReleases()) > 0 {
		out = append(out, "only for "+strings.Join(bareAll(s.GetReleases()), ", "))
	}
	if len(s.GetTogetherWith()) > 0 {
		out = append(out, "only together with "+strings.Join(bareAll(s.GetTogetherWith()), ", "))
	}
	if s.GetTwoWay() {
		out = append(out, "the old one may also stand in for it")
	}
	return strings.Join(out, "; ")
}

func stockText(s *partsv1.Supersession) string {
	if s.GetOldStock() == 0 {
		return ""
	}
	return word(s.GetOldStock(), "OLD_STOCK_")
}

func bareAll(names []string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = bare(n)
	}
	return out
}

func applicationTable(all []*partsv1.Application) *table {
	t := &table{Caption: "Where it belongs", Heads: []string{"Position", "How many", "On which vehicles"}, Empty: "No entry of the catalogue puts it anywhere: it belongs where a release or another part names it."}
	for _, a := range all {
		t.Rows = append(t.Rows, []cell{{Text: wording.UpperFirst(place(a.GetPosition())), Sub: a.GetText()}, {Text: strconv.Itoa(max(1, int(a.GetQuantity())))},
			{Text: orAll(conditionText(a.GetConditions()))}})
	}
	return t
}

func orAll(text string) string { return cmp.Or(text, "all") }

// conditionText says in words on which vehicles a row of the catalogue holds.
func conditionText(c *partsv1.Conditions) string {
	var out []string
	say := func(is bool, text string) {
		if is {
			out = append(out, text)
		}
	}
	say(len(c.GetReleases()) > 0, "release "+strings.Join(bareAll(c.GetReleases()), ", "))
	say(len(c.GetOptions()) > 0, "with "+strings.Join(c.GetOptions(), ", "))
	say(len(c.GetWithoutOptions()) > 0, "without "+strings.Join(c.GetWithoutOptions(), ", "))
	say(c.GetFirstSerial() != "", "from "+c.GetFirstSerial())
	say(c.GetLastSerial() != "", "to "+c.GetLastSerial())
	say(len(c.GetExceptSerials()) > 0, "except "+strings.Join(c.GetExceptSerials(), ", "))
	say(c.GetBuiltFromDate() != nil, "built from "+civil(c.GetBuiltFromDate()))
	say(c.GetBuiltUntilDate() != nil, "built until "+civil(c.GetBuiltUntilDate()))
	say(len(c.GetMarkets()) > 0, "market "+strings.Join(wording.Countries(c.GetMarkets()), ", "))
	say(len(c.GetLots()) > 0, "lot "+strings.Join(c.GetLots(), ", "))
	say(len(c.GetTogetherWith()) > 0, "together with "+strings.Join(bareAll(c.GetTogetherWith()), ", "))
	say(c.GetAppliesWhen() != "", "where "+c.GetAppliesWhen())
	say(c.GetOtherwise(), "where no other row holds")
	return strings.Join(out, "; ")
}

func usesTable(all []*partsv1.Use) *table {
	t := &table{Caption: "Where it is", Heads: []string{"Vehicle", "Position", "From", "Until"}, Empty: "It is on no vehicle that is on record."}
	for _, u := range all {
		serial := serialIn(u.GetBuild())
		t.Rows = append(t.Rows, []cell{{Text: serial, Path: vehiclePath(serial), Mono: true}, {Text: wording.UpperFirst(place(u.GetPosition()))},
			{Text: civil(u.GetFromDate()), Tight: true}, {Text: civil(u.GetUntilDate()), Tight: true}})
	}
	return t
}

// showSupersessions lists them all.
func (v *visit) showSupersessions() {
	r, err := v.d.Parts.ListSupersessions(v.as(), &partsv1.ListSupersessionsRequest{PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	v.worksPage(http.StatusOK, "Supersessions", block{Text: []string{"Which part took the place of which, since when and why."},
		Table: supersessionTable(r.GetSupersessions(), "None is on record. They come in with an import."),
		Links: append(more("/works/supersessions?page=", url.QueryEscape(r.GetNextPageToken())), link{Label: "Search parts", Path: "/works/parts"})})
}
