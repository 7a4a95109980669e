package desk

import (
	"cmp"
	"net/http"
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/page"
)

// openAssignments are the dealers that the vehicle is with.
func (v *visit) openAssignments() ([]*accessv1.Assignment, error) {
	return page.All(func(token string) ([]*accessv1.Assignment, string, error) {
		r, err := v.d.Access.ListAssignments(v.as(), &accessv1.ListAssignmentsRequest{Parent: v.vehicle(), Open: true, PageSize: 100, PageToken: token})
		return r.GetAssignments(), r.GetNextPageToken(), err
	})
}

// groundOptions say by what right a dealer is to see the vehicle: by name where
// somebody lets them who may.
func (v *visit) groundOptions() []option {
	out := []option{{Value: "BOOKING", Label: "it is booked in with them"}, {Value: "WORKS", Label: "the works sends it, or asks their help"}}
	for _, a := range v.askers() {
		if strings.HasPrefix(a.Value, "people/") {
			out = append(out, option{Value: a.Value, Label: a.Label + ", lets them"})
		}
	}
	return out
}

func (v *visit) assignForm(dealers []*accessv1.Organisation) *form {
	return &form{ID: "assign", Action: v.at("/dealers"), Submit: "Let them see it", Fields: []field{
		{Name: "assignment.organisation", Label: "Dealer", Options: append([]option{{Label: toChoose}}, organisationOptions(dealers, "")...)},
		{Name: "ground", Label: "By what right", Options: v.groundOptions()},
		{Name: "assignment.purpose", Label: "What for, without names", Type: "text", Autocomplete: "off", Hint: "As in 24-month service, noise in the transfer case."},
		{Name: "assignment.last_date", Label: "Until", Type: "date", Hint: "Left empty, it is 30 days for a booking and a year for the rest."}, requestField(),
	}}
}

// groundField is where the form asks by what right.
func groundField(name string) string {
	switch name {
	case "assignment.ground", "assignment.consented_by":
		return "ground"
	}
	return name
}

func (v *visit) showDealers() {
	dealers, err := v.organisations()
	if err != nil {
		v.refuse(err)
		return
	}
	v.dealersPage(http.StatusOK, dealers, v.assignForm(dealers))
}

// dealersPage says which dealers see the vehicle above the form for another.
func (v *visit) dealersPage(status int, dealers []*accessv1.Organisation, f *form) {
	open, err := v.openAssignments()
	if err != nil {
		v.refuse(err)
		return
	}
	titles := map[string]string{}
	for _, o := range dealers {
		titles[o.GetName()] = o.GetTitle()
	}
	b := block{Heading: "Dealers who see it"}
	for _, a := range open {
		e := entry{Term: cmp.Or(titles[a.GetOrganisation()], bare(a.GetOrganisation())), Text: "until " + civil(a.GetLastDate()) + ": " + purposeOf(a) + "."}
		e.Action = []link{{Label: "End it for " + e.Term, Path: v.at("/dealers/" + bare(a.GetName()))}}
		b.List = append(b.List, e)
	}
	if len(open) == 0 {
		b.Text = []string{"No dealer sees its record at present."}
	}
	v.formPage(status, "Let a dealer see it", f, b)
}

func (v *visit) assign() {
	if !v.readForm() {
		return
	}
	dealers, err := v.organisations()
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	a := &accessv1.Assignment{Organisation: v.value("assignment.organisation"), Purpose: v.value("assignment.purpose"), LastDate: t.date("assignment.last_date")}
	if ground := v.value("ground"); strings.HasPrefix(ground, "people/") {
		a.Ground, a.ConsentedBy = accessv1.AssignmentGround_ASSIGNMENT_GROUND_CONSENT, ground
	} else {
		a.Ground = accessv1.AssignmentGround(accessv1.AssignmentGround_value["ASSIGNMENT_GROUND_"+ground])
	}
	if err = t.err(); err == nil {
		_, err = v.d.Access.CreateAssignment(v.as(), &accessv1.CreateAssignmentRequest{Parent: v.vehicle(), Assignment: a, RequestId: v.request()})
	}
	if err != nil {
		f := v.assignForm(dealers).filled(v)
		v.againPointed(err, f, groundField, func(status int) { v.dealersPage(status, dealers, f) })
		return
	}
	v.goTo(v.at("/dealers?done=assigned"))
}

// endAssignmentForm asks how and why a dealer is to see the vehicle no longer.
func (v *visit) endAssignmentForm(a *accessv1.Assignment) *form {
	return &form{ID: "end", Action: v.at("/dealers/" + bare(a.GetName())), Submit: "They see it no longer", Grave: true, Fields: []field{
		{Name: "ends", Label: "What ends it", Options: []option{{Value: "taken-back", Label: "it is taken back"}, {Value: "complete", Label: "the work is complete"}}},
		{Name: "reason", Label: "Why, without names", Type: "text", Autocomplete: "off", Hint: "As in booked elsewhere. Where the work is complete, nothing is fine too."},
		{Name: "etag", Type: "hidden", Value: a.GetEtag()}, requestField(),
	}}
}

// showEndAssignment asks before a dealer loses sight of the vehicle.
func (v *visit) showEndAssignment() {
	a, err := v.d.Access.GetAssignment(v.as(), &accessv1.GetAssignmentRequest{Name: v.assignment()})
	if err != nil {
		v.refuse(err)
		return
	}
	v.endAssignmentPage(http.StatusOK, a, v.endAssignmentForm(a))
}

// staffGrounds are by what right a dealer sees a vehicle, as the works says it.
var staffGrounds = map[accessv1.AssignmentGround]string{
	accessv1.AssignmentGround_ASSIGNMENT_GROUND_CONSENT: "its owner lets them", accessv1.AssignmentGround_ASSIGNMENT_GROUND_BOOKING: "it is booked in with them",
	accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS: "the works sent it, or asked their help",
}

// endAssignmentPage says what there is to end. Where it has ended already, it says
// that.
func (v *visit) endAssignmentPage(status int, a *accessv1.Assignment, f *form) {
	dealer := bare(a.GetOrganisation())
	if o, err := v.d.Access.GetOrganisation(v.as(), &accessv1.GetOrganisationRequest{Name: a.GetOrganisation()}); err == nil {
		dealer = o.GetTitle()
	}
	b := block{Facts: said(fact{Label: "Dealer", Value: dealer}, fact{Label: "What for", Value: purposeOf(a)}, fact{Label: "By what right", Value: staffGrounds[a.GetGround()]},
		fact{Label: "Since", Value: civil(a.GetStartDate())}, fact{Label: "Until", Value: civil(a.GetLastDate())}),
		Text: []string{"From then on they see neither the vehicle nor its record. What they recorded stays."}, Links: []link{{Label: "Dealers who see it", Path: v.at("/dealers")}}}
	if !a.GetOpen() {
		b.Text = []string{"It has ended: they do not see the vehicle by it any more."}
		if end := a.GetEnd(); end != nil {
			b.Facts = append(b.Facts, said(fact{Label: "Ended on", Value: day(end.GetEndTime())}, fact{Label: "Why", Value: end.GetReason()})...)
		}
		f = nil
	}
	v.formPage(status, "Let a dealer see it no longer", f, b)
}

func (v *visit) endAssignment() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Access.EndAssignment(v.as(), &accessv1.EndAssignmentRequest{
		Name: v.assignment(), Complete: v.value("ends") == "complete", Reason: v.value("reason"), Etag: v.value("etag"), RequestId: v.request(),
	})
	if err == nil {
		v.goTo(v.at("/dealers?done=assignment-ended"))
		return
	}
	a, errGet := v.d.Access.GetAssignment(v.as(), &accessv1.GetAssignmentRequest{Name: v.assignment()})
	if errGet != nil {
		v.refuse(err)
		return
	}
	f := v.endAssignmentForm(a).filled(v)
	v.again(err, f, func(status int) { v.endAssignmentPage(status, a, f) })
}
