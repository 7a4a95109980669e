package console

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Assignments prints which organisation may see a vehicle, or with "-" of all;
// of one organisation only, or those that are open only.
func (c *Console) Assignments(ctx context.Context, serial, organisation string, open bool) error {
	r := &accessv1.ListAssignmentsRequest{Parent: "vehicles/-", PageSize: 500, Open: open}
	if organisation != "" {
		r.Organisation = organisationName(organisation)
	}
	if serial != "-" {
		name, err := c.open(ctx, serial)
		if err != nil {
			return err
		}
		r.Parent = "vehicles/" + serialOf(name)
	}
	all, err := page.All(func(token string) ([]*accessv1.Assignment, string, error) {
		r.PageToken = token
		answer, err := c.Access.ListAssignments(ctx, r)
		return answer.GetAssignments(), answer.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	// By vehicle, and of each the oldest first: identifiers say nothing.
	slices.SortStableFunc(all, func(a, b *accessv1.Assignment) int {
		return cmp.Or(strings.Compare(serialOf(a.GetName()), serialOf(b.GetName())), a.GetCreateTime().AsTime().Compare(b.GetCreateTime().AsTime()))
	})
	return printAll(c, all, func(s *sheet) {
		for _, a := range all {
			assignmentSheet(s, a)
		}
		if len(all) == 0 {
			s.line("There is no assignment of that kind.")
		}
	})
}

// assignmentSheet says who may see what, until when, and by what right.
func assignmentSheet(s *sheet, a *accessv1.Assignment) {
	end, state := a.GetEnd(), "not open now"
	switch {
	case a.GetOpen():
		state = "open now"
	case end.GetComplete():
		state = "completed"
	case end != nil:
		state = "taken back"
	}
	right := word(a.GetGround(), "ASSIGNMENT_GROUND_")
	switch {
	case a.GetGround() == accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS:
		right = "the works"
	case a.GetConsentedBy() != "":
		right += " of " + idOf(a.GetConsentedBy())
	}
	s.text(serialOf(a.GetName())+"  ", fmt.Sprintf("%s, %s until %s, by %s, %s: %s",
		idOf(a.GetOrganisation()), day(a.GetStartDate()), day(a.GetLastDate()), right, state, a.GetPurpose()))
	indent := strings.Repeat(" ", len(serialOf(a.GetName()))+2)
	if end != nil {
		text := state + " on" + at(end.GetEndTime())
		if end.GetRecordedBy() != "" { // which a dealer does not see
			text += " by " + end.GetRecordedBy()
		}
		if end.GetReason() != "" {
			text += ": " + end.GetReason()
		}
		s.text(indent, text)
	}
	s.line("%s%s", indent, a.GetName())
}

// NewAssignment is what lets an organisation see a vehicle, as typed.
type NewAssignment struct {
	Serial, Organisation string
	Ground               string // consent, booking, works
	ConsentOf            string // who gave the consent: "p0031"
	Start, Last          vehicle.Date
	Purpose              string
}

// CreateAssignment lets an organisation see a vehicle.
func (c *Console) CreateAssignment(ctx context.Context, n NewAssignment) error {
	name, err := c.open(ctx, n.Serial)
	if err != nil {
		return err
	}
	a := &accessv1.Assignment{
		Organisation: organisationName(n.Organisation), Purpose: n.Purpose,
		StartDate: vehiclewire.DateProto(n.Start), LastDate: vehiclewire.DateProto(n.Last),
	}
	if n.Ground != "" {
		value, ok := enumOf(accessv1.AssignmentGround_value, "ASSIGNMENT_GROUND_", n.Ground)
		if !ok {
			return fault.InvalidField("ground", n.Ground, kinds(accessv1.AssignmentGround_name, "ASSIGNMENT_GROUND_"))
		}
		a.Ground = accessv1.AssignmentGround(value)
	}
	if n.ConsentOf != "" {
		a.ConsentedBy = personName(n.ConsentOf)
	}
	a, err = c.Access.CreateAssignment(ctx, &accessv1.CreateAssignmentRequest{
		Parent: "vehicles/" + serialOf(name), Assignment: a, RequestId: uuid.NewString(),
	})
	return c.printAssignment(a, err)
}

// EndAssignment ends an assignment before its last day.
func (c *Console) EndAssignment(ctx context.Context, name string, complete bool, reason string) error {
	a, err := c.Access.EndAssignment(ctx, &accessv1.EndAssignmentRequest{Name: name, Complete: complete, Reason: reason, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	// What was said twice, or by another right too, is to be ended twice. A
	// dealer who completed the work may not ask about the vehicle any more.
	others, _ := c.Access.ListAssignments(ctx, &accessv1.ListAssignmentsRequest{
		Parent: "vehicles/" + serialOf(name), Organisation: a.GetOrganisation(), Open: true, PageSize: 500,
	})
	return c.print(a, func(s *sheet) {
		assignmentSheet(s, a)
		for _, o := range others.GetAssignments() {
			s.text("", fmt.Sprintf("%s sees %s still, by %s.", idOf(o.GetOrganisation()), serialOf(o.GetName()), o.GetName()))
		}
	})
}

func (c *Console) printAssignment(a *accessv1.Assignment, err error) error {
	if err != nil {
		return err
	}
	return c.print(a, func(s *sheet) { assignmentSheet(s, a) })
}
