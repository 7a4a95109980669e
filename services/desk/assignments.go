package desk

import (
	"net/http"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

// groundWords are by what right a dealer sees a vehicle.
var groundWords = map[accessv1.AssignmentGround]string{
	accessv1.AssignmentGround_ASSIGNMENT_GROUND_CONSENT: "its owner lets you", accessv1.AssignmentGround_ASSIGNMENT_GROUND_BOOKING: "it is booked in with you",
	accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS: "the works sent it",
}

// assignmentsBlock lists the vehicles that are with a dealer. Which they are, the
// service says: those that an open assignment lets them see.
func (v *visit) assignmentsBlock() (block, error) {
	list, err := v.d.Access.ListAssignments(v.as(), &accessv1.ListAssignmentsRequest{
		Parent: "vehicles/-", Open: true, PageSize: 100, PageToken: v.r.URL.Query().Get("page"),
	})
	if err != nil {
		return block{}, err
	}
	t := &table{Caption: "Vehicles with you", Heads: []string{"Vehicle", "What for", "Until", ""},
		Empty: "No vehicle is assigned to you at present. The works or an owner does that, and you see its record from then on."}
	for _, a := range list.GetAssignments() {
		t.Rows = append(t.Rows, []cell{
			{Text: serialOf(a), Mono: true, Path: vehiclePath(serialOf(a))}, {Text: purposeOf(a), Sub: groundWords[a.GetGround()]},
			{Text: civil(a.GetLastDate())}, {Text: "Complete the work", Path: "/" + a.GetName()},
		})
	}
	return block{Heading: "Vehicles with you", Table: t, Links: more("/?page=", list.GetNextPageToken())}, nil
}

// serialOf gives the serial in an assignment's name.
func serialOf(a *accessv1.Assignment) string {
	return a.GetName()[len("vehicles/") : len(a.GetName())-len("/assignments/"+bare(a.GetName()))]
}

func purposeOf(a *accessv1.Assignment) string {
	if a.GetPurpose() == "" {
		return "not said"
	}
	return a.GetPurpose()
}

// assignment is the one that the address names.
func (v *visit) assignment() string {
	return "vehicles/" + v.r.PathValue("serial") + "/assignments/" + v.r.PathValue("assignment")
}

func completeForm(a *accessv1.Assignment) *form {
	return &form{ID: "complete", Action: "/" + a.GetName(), Submit: "The work is complete", Fields: []field{
		{Name: "reason", Label: "Anything to add", Type: "text", Autocomplete: "off", Hint: "Without names, as in back with its owner. The vehicle's record keeps it; nothing is fine too."},
		{Name: "etag", Type: "hidden", Value: a.GetEtag()}, requestField(),
	}}
}

// showComplete asks whether the work is complete, before it counts.
func (v *visit) showComplete() {
	a, err := v.d.Access.GetAssignment(v.as(), &accessv1.GetAssignmentRequest{Name: v.assignment()})
	if err != nil {
		v.refuse(err)
		return
	}
	v.completePage(http.StatusOK, a, completeForm(a))
}

func (v *visit) completePage(status int, a *accessv1.Assignment, f *form) {
	v.render(status, view{Title: "Complete the work on " + serialOf(a), Blocks: []block{
		{Facts: []fact{
			{Label: "Vehicle", Value: serialOf(a), Mono: true}, {Label: "What for", Value: purposeOf(a)},
			{Label: "With you since", Value: civil(a.GetStartDate())}, {Label: "Until", Value: civil(a.GetLastDate())},
		}},
		{Text: []string{"Record what was done first: once this is complete, you see the vehicle and its record no longer."}, Form: f,
			Links: []link{{Label: "Not yet: back to the vehicles", Path: "/"}}},
	}})
}

func (v *visit) complete() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Access.EndAssignment(v.as(), &accessv1.EndAssignmentRequest{
		Name: v.assignment(), Complete: true, Reason: v.value("reason"), Etag: v.value("etag"), RequestId: v.request(),
	})
	if err == nil {
		v.goTo("/?done=completed")
		return
	}
	a, errGet := v.d.Access.GetAssignment(v.as(), &accessv1.GetAssignmentRequest{Name: v.assignment()})
	if errGet != nil {
		v.refuse(err)
		return
	}
	f := completeForm(a).filled(v)
	v.again(err, f, func(status int) { v.completePage(status, a, f) })
}
