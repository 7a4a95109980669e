package desk

import (
	"net/http"
	"net/url"
	"strings"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"

	"halfshaft/services/wording"
)

func termPath(name string) string {
	return "/works/terms/" + url.PathEscape(serialIn(name)) + "/" + url.PathEscape(bare(name))
}

func (v *visit) showTerms() {
	r, err := v.d.Warranties.ListWarrantyTerms(v.as(), &warrantyv1.ListWarrantyTermsRequest{PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Terms", Heads: []string{"Term", "By whom", "How long", "For what", "For vehicles and units from"},
		Empty: "No term is on record. Terms come in with an import, or by the command halfshaft warranty term add."}
	for _, x := range r.GetWarrantyTerms() {
		from := cell{Text: civil(x.GetEffectiveDate()), Tight: !x.GetWithdrawn(), Sub: yes(x.GetWithdrawn(), "nobody gets it from then on")}
		t.Rows = append(t.Rows, []cell{{Text: x.GetTitle(), Path: termPath(x.GetName()), Sub: versionName(x.GetName())}, {Text: giverText(x)},
			{Text: termSpan(x)}, {Text: termSubject(x)}, from})
	}
	v.worksPage(http.StatusOK, "Warranty terms", block{
		Text:  []string{"A vehicle or unit keeps the version that was in force when its term began."},
		Table: t, Links: more("/works/terms?page=", url.QueryEscape(r.GetNextPageToken()))})
}

func giverText(x *warrantyv1.WarrantyTerm) string {
	if x.GetGiver() == warrantyv1.WarrantyGiver_WARRANTY_GIVER_SUPPLIER {
		return "the supplier " + x.GetSupplier()
	}
	return "the works"
}

// termSpan is how long a term lasts, with its units.
func termSpan(x *warrantyv1.WarrantyTerm) string {
	var limbs []string
	if n := int(x.GetMonths()); n > 0 {
		limbs = append(limbs, wording.Count(n, "month"))
	}
	if d := entered(x.GetDistance()); d != "" {
		limbs = append(limbs, d)
	}
	if len(limbs) == 0 {
		return "without limit"
	}
	return strings.Join(limbs, " or ")
}

func termSubject(x *warrantyv1.WarrantyTerm) string {
	var out []string
	if len(x.GetPositions()) > 0 {
		out = append(out, place(strings.Join(x.GetPositions(), ", ")))
	}
	if len(x.GetParts()) > 0 {
		out = append(out, "parts "+strings.Join(x.GetParts(), ", "))
	}
	if len(out) == 0 {
		out = append(out, "the whole vehicle")
	}
	if len(x.GetReleases()) > 0 {
		out = append(out, "of release "+strings.Join(bareAll(x.GetReleases()), ", "))
	}
	return strings.Join(out, "; ")
}

func (v *visit) showTerm() {
	x, err := v.d.Warranties.GetWarrantyTerm(v.as(), &warrantyv1.GetWarrantyTermRequest{
		Name: "warrantyTerms/" + v.r.PathValue("term") + "/versions/" + v.r.PathValue("version")})
	if err != nil {
		v.refuse(err)
		return
	}
	facts := block{Facts: said(termFacts(x)...), Links: []link{{Label: "All terms", Path: "/works/terms"}}}
	exclusions := block{Heading: "What it does not cover"}
	for _, e := range x.GetExclusions() {
		sub := "decided for each claim"
		if len(e.GetPositions()) > 0 {
			sub = "at " + place(strings.Join(e.GetPositions(), ", "))
		}
		exclusions.List = append(exclusions.List, entry{Term: e.GetExclusionId(), Text: e.GetText(), Sub: sub})
	}
	if len(exclusions.List) == 0 {
		exclusions.Text = []string{"It excludes nothing."}
	}
	blocks := []block{facts, exclusions}
	if len(x.GetConditions()) > 0 {
		conditions := block{Heading: "What the owner has to do"}
		for _, c := range x.GetConditions() {
			conditions.List = append(conditions.List, entry{Text: c})
		}
		blocks = append(blocks, conditions)
	}
	v.worksShow(x.GetTitle(), blocks...)
}

func termFacts(x *warrantyv1.WarrantyTerm) []fact {
	var pays []string
	if x.GetCoversParts() {
		pays = append(pays, "parts")
	}
	if x.GetCoversLabour() {
		pays = append(pays, "labour")
	}
	midnight := "by the works' clock or the owner's, whichever is later"
	if x.GetMidnight() > 0 {
		midnight = "by the clock of the " + word(x.GetMidnight(), "WARRANTY_MIDNIGHT_")
	}
	repair := ""
	if r := x.GetRepair(); r != nil {
		repair = "the rest of the term"
		if r.GetMonths() > 0 {
			repair += ", at least " + wording.Count(int(r.GetMonths()), "month")
		}
		if d := entered(r.GetDistance()); d != "" {
			repair += " or " + d
		}
	}
	return []fact{
		{Label: "Term", Value: versionName(x.GetName())}, {Label: "Given by", Value: giverText(x)}, {Label: "For", Value: termSubject(x)},
		{Label: "Begins with", Value: word(x.GetStart(), "WARRANTY_START_")}, {Label: "Lasts", Value: termSpan(x)}, {Label: "A day ends", Value: midnight},
		{Label: "Pays for", Value: strings.Join(pays, " and ")}, {Label: "With a new owner", Value: map[bool]string{true: "it goes with the vehicle", false: "it ends"}[x.GetTransferable()]},
		{Label: "Days out of service", Value: map[bool]string{true: "are added at its end", false: "are not added"}[x.GetExtendedByDaysOut()]},
		{Label: "A repaired part gets", Value: repair}, {Label: "In force from", Value: onDay(x.GetEffectiveDate()).Long()},
		{Label: "Withdrawn", Value: yes(x.GetWithdrawn(), "nobody gets it from then on; who has it keeps it")}, {Label: "Signed by", Value: signature(x.GetSample(), x.GetSignedBy())},
	}
}
