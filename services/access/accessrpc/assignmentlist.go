package accessrpc

import (
	"context"
	"slices"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
)

// allVehicles is the parent that stands for every vehicle.
const allVehicles = "vehicles/-"

// ListAssignments implements the AccessService.
func (s *Service) ListAssignments(ctx context.Context, r *accessv1.ListAssignmentsRequest) (*accessv1.ListAssignmentsResponse, error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	if r.GetOrganisation() != "" {
		if _, err := accesswire.OrganisationID("organisation", r.GetOrganisation()); err != nil {
			return nil, err
		}
	}
	eyes := s.eyesOf(ctx)
	serials, mine, err := s.listed(eyes, r.GetParent(), after)
	if err != nil {
		return nil, err
	}
	var found []*accessv1.Assignment
	for _, serial := range serials {
		ok, err := mine(serial)
		if ok && err == nil {
			found, err = s.ofVehicle(eyes, r, serial, after, found)
		}
		if err != nil {
			return nil, err
		}
		if len(found) > size {
			break
		}
	}
	out := &accessv1.ListAssignmentsResponse{}
	out.Assignments, out.NextPageToken = page.Cut(r, found, size, func(a *accessv1.Assignment) string { return a.GetName() })
	return out, nil
}

// listed gives the vehicles whose assignments are asked for, from that of the
// name on after which the page begins, and which of them the caller lists: that
// may need the ties of each, and a page seldom reaches the last.
func (s *Service) listed(e *eyes, parent, after string) ([]vehicle.Serial, func(vehicle.Serial) (bool, error), error) {
	if parent != allVehicles {
		serial, _, err := resname.Serial("parent", "vehicles/{serial}", parent)
		return []vehicle.Serial{serial}, every, err
	}
	serials := s.store.Assigned()
	if after != "" {
		last, _, err := accesswire.AssignmentID("page_token", after)
		if err != nil {
			return nil, nil, err
		}
		from, _ := slices.BinarySearch(serials, last)
		serials = serials[from:]
	}
	mine, err := e.mine()
	return serials, mine, err
}

// every is for who lists the assignments of any vehicle they ask for.
func every(vehicle.Serial) (bool, error) { return true, nil }

// ofVehicle adds the assignments of one vehicle that are asked for.
func (s *Service) ofVehicle(e *eyes, r *accessv1.ListAssignmentsRequest, serial vehicle.Serial, after string, found []*accessv1.Assignment) ([]*accessv1.Assignment, error) {
	for _, a := range s.store.Assignments(serial) {
		if a.Name() <= after || r.GetOrganisation() != "" && a.Organisation != r.GetOrganisation() {
			continue
		}
		if sees, err := e.sees(a.Assignment); err != nil {
			return nil, err
		} else if !sees {
			continue
		}
		p, err := e.show(a.Assignment, a.ModRevision)
		if err != nil {
			return nil, err
		}
		if p.GetOpen() || !r.GetOpen() {
			found = append(found, p)
		}
	}
	return found, nil
}
