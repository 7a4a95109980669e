package desk

import (
	"html/template"
	"net/url"
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"

	"halfshaft/services/wording"
)

// lead is what is seen at once of a vehicle: who, how far, when next and who
// pays, with what can be done about each.
func (v *visit) lead(d *enquiryv1.Dossier, plan *schedulev1.VisitPlan) []block {
	var out []block
	if v.staff() {
		out = append(out, v.whoBlock(d))
	} else {
		out = append(out, v.withYou()...)
	}
	out = append(out, v.distanceBlock(d), v.nextBlock(d, plan))
	if v.staff() {
		out = append(out, coverLead(d))
	}
	return out
}

// withYou is what the vehicle is with a dealer for, and where that is ended.
func (v *visit) withYou() (out []block) {
	list, err := v.d.Access.ListAssignments(v.as(), &accessv1.ListAssignmentsRequest{Parent: v.vehicle(), Open: true, PageSize: 10})
	if err != nil {
		return nil // the page stands without it
	}
	b := block{Heading: "With you"}
	for _, a := range list.GetAssignments() {
		b.List = append(b.List, entry{Term: wording.UpperFirst(purposeOf(a)), Text: "until " + civil(a.GetLastDate()) + ".", Action: []link{{Label: "Complete the work", Path: "/" + a.GetName()}}})
	}
	if len(b.List) == 0 {
		return nil
	}
	return []block{b}
}

// scrapped reports whether a vehicle is no more.
func scrapped(d *enquiryv1.Dossier) bool {
	return d.GetStanding().GetState() == ownerv1.StandingState_STANDING_STATE_SCRAPPED
}

// whoBlock says whose it is, how they are reached, and what became of it.
func (v *visit) whoBlock(d *enquiryv1.Dossier) block {
	b := block{Heading: "Who"}
	for _, c := range d.GetContacts() {
		b.List = append(b.List, v.contactEntry(c))
	}
	if len(b.List) == 0 {
		b.List = []entry{{Term: "Nobody on record", Sub: "Ask who owns it."}}
	}
	if s := d.GetStanding(); s.GetState() > ownerv1.StandingState_STANDING_STATE_IN_USE {
		b.List = append(b.List, entry{Mark: wording.UpperFirst(word(s.GetState(), "STANDING_STATE_")), Text: "since " + civil(s.GetSinceDate()) + ".", Sub: wording.Ended(wording.UpperFirst(s.GetNote()))})
	}
	last := &b.List[len(b.List)-1]
	last.Action = []link{{Label: "Open an enquiry", Path: v.at("/enquiries/new")}}
	if v.writesPeople() {
		b.Links = []link{{Label: "Sold: new owner", Path: v.at("/new-owner")}, {Label: "Scrapped, exported or lost sight of", Path: v.at("/standing")}}
	}
	return b
}

// contactEntry is somebody who is tied to the vehicle, with how they are reached;
// engineers are not told who it is.
func (v *visit) contactEntry(c *enquiryv1.DossierContact) entry {
	p := c.GetPerson()
	if p == nil {
		return entry{Term: "Person " + bare(c.GetTie().GetPerson()), Text: wording.UpperFirst(tieWords(c.GetTie())) + ".", Sub: "Support knows the name and how they are reached."}
	}
	e := entry{Term: p.GetFullName(), Text: wording.UpperFirst(tieWords(c.GetTie())) + "."}
	e.Sub = strings.Join(p.GetPostalLines(), ", ")
	if p.GetPhone() != "" {
		e.Reach = append(e.Reach, dialled(p.GetPhone()))
	} else {
		e.Reach = append(e.Reach, reach{Label: "no telephone"})
	}
	if p.GetEmail() != "" {
		e.Reach = append(e.Reach, mailed(p.GetEmail()))
	} else {
		e.Reach = append(e.Reach, reach{Label: "no mail address"})
	}
	if v.writesPeople() {
		e.Reach = append(e.Reach, reach{"Change how they are reached", template.URL(v.at("/people/" + url.PathEscape(bare(p.GetName()))))}) // escaped
	}
	return e
}

// distanceBlock is how far it has gone.
func (v *visit) distanceBlock(d *enquiryv1.Dossier) block {
	b := block{Heading: "True distance"}
	e := entry{Term: "No reading on record"}
	if p := d.GetSchedule().GetPace(); p.GetCountedReadings() > 0 {
		e = entry{Term: distance(p.GetEstimatedDistance(), p.GetUnit()), Text: "today, by estimate.", Sub: distance(p.GetLifeDistance(), p.GetUnit()) + " on " + civil(p.GetReadingDate()) + "."}
	}
	if scrapped(d) {
		if e.Text != "" {
			e.Term, e.Text, e.Sub = strings.TrimSuffix(e.Sub, "."), "", ""
		}
		b.List = []entry{e}
		return b
	}
	if ask := d.GetSchedule().GetReadingRequest(); ask != nil {
		e.Sub = strings.TrimSpace(e.Sub + " Ask for the odometer: " + ask.GetReason().GetSentence())
	}
	e.Action = []link{{Label: "Record a reading", Path: v.at("/readings/new")}}
	b.List = []entry{e}
	return b
}

// nextBlock is the next visit.
func (v *visit) nextBlock(d *enquiryv1.Dossier, plan *schedulev1.VisitPlan) block {
	b := block{Heading: "Next visit"}
	switch visits := plan.GetVisits(); {
	case scrapped(d):
		b.List = []entry{{Term: "None", Text: "It is no more; its record stays."}}
	case len(visits) == 0:
		b.List = []entry{{Term: "None planned", Action: []link{{Label: "Record work", Path: v.at("/service")}}}}
	default:
		query := url.Values{}
		for _, t := range visits[0].GetTasks() {
			query.Add("item", t.GetItemId())
		}
		e := entry{Term: civil(visits[0].GetVisitDate()), Text: wording.Count(len(visits[0].GetTasks()), "item") + "."}
		overdue := 0
		for _, i := range d.GetSchedule().GetItems() {
			if i.GetState() == schedulev1.DueState_DUE_STATE_OVERDUE && !i.GetItem().GetOwnerCheck() {
				overdue++
			}
		}
		if overdue > 0 {
			e.Sub = wording.UpperFirst(wording.Count(overdue, "item")) + " overdue."
		}
		e.Action = []link{{Label: "Record work", Path: v.at("/service?" + query.Encode())}}
		b.List = []entry{e}
	}
	return b
}

// coverLead is whether the vehicle as a whole is under warranty; what parts of
// it have of their own stands below.
func coverLead(d *enquiryv1.Dossier) block {
	b := block{Heading: "Warranty", List: []entry{{Term: "No terms on record"}}}
	if len(d.GetCovers()) == 0 {
		return b
	}
	c := d.GetCovers()[0]
	e := &b.List[0]
	switch c.GetState() {
	case warrantyv1.CoverState_COVER_STATE_COVERED:
		e.Term = "Covered"
	case warrantyv1.CoverState_COVER_STATE_NOT_COVERED:
		e.Term = "Not covered"
	default:
		e.Term = "Cannot be told"
		e.Sub = c.GetQuestion()
	}
	if t := c.GetTerms(); len(t) > 0 && t[0].GetLastDate() != nil {
		e.Text = map[bool]string{true: "until ", false: "since "}[c.GetState() == warrantyv1.CoverState_COVER_STATE_COVERED] + civil(t[0].GetLastDate()) + "."
	}
	if n := len(d.GetCovers()) - 1; n > 0 {
		e.Sub = strings.TrimSpace(e.Sub + " " + wording.UpperFirst(wording.Count(n, "part")) + " with terms of their own: see below.")
	}
	return b
}

// tyreWords names a tyre: size and tread.
func tyreWords(t *vehiclev1.Tyre) string {
	if t.GetPattern() == "" {
		return t.GetSize()
	}
	return t.GetSize() + ", " + t.GetPattern() + " tread"
}

func ratioText(r string) string {
	if r == "" {
		return ""
	}
	return r + " to 1"
}
