package warrantyrpc

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantywire"
)

// The pages of lists.
const (
	standardPage = 50
	mostPage     = 500
)

// GetCover implements the WarrantyService.
func (s *Service) GetCover(ctx context.Context, r *warrantyv1.GetCoverRequest) (*warrantyv1.Cover, error) {
	serial, ids, err := resname.Serial("name", warrantywire.CoverForm, r.GetName())
	if err != nil {
		return nil, err
	}
	when, err := s.moment("on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	said, err := vehiclewire.Distance(r.GetDistance())
	if err != nil {
		return nil, fault.Under("distance", err)
	}
	if said < 0 {
		return nil, fault.InvalidField("distance", said.Text(vehicle.Miles), "0 or more")
	}
	g, err := s.gather(ctx, serial, when)
	if err != nil {
		return nil, err
	}
	reach := g.reach(when.on)
	if r.GetDistance() != nil {
		reach = warranty.ReadAs(said)
	}
	answer, err := s.cover(ctx, g, positionOf(ids[0]), reach, nil)
	if err != nil {
		return nil, err
	}
	return vehiclewire.Alone(ctx, serial, s.discreetCover(ctx, g, answer)), nil
}

// moment reads the day of a request: this moment where none is given.
func (s *Service) moment(field string, d *date.Date) (moment, error) {
	on, err := vehiclewire.Date(d)
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return moment{}, fault.InvalidField(field, f.Got, f.Want)
	}
	if on.IsZero() {
		return moment{s.today(), s.now()}, nil
	}
	return moment{on: on}, nil
}

// positionOf reads the position of a name; the vehicle as a whole has none.
func positionOf(segment string) string {
	if segment == warrantywire.WholeVehicle {
		return ""
	}
	return segment
}

// cover answers for one position.
func (s *Service) cover(ctx context.Context, g *gathered, position string, reach warranty.Reach, exclusions []string) (*warrantyv1.Cover, error) {
	q, err := s.question(ctx, g, position)
	if err != nil {
		return nil, err
	}
	q.Exclusions = exclusions
	m := warrantywire.CoverProto(g.serial, warranty.DecideWithin(q, reach))
	m.DistanceEstimated = m.GetDistance() != nil && !reach.Read
	return m, nil
}

// ListCovers implements the WarrantyService.
func (s *Service) ListCovers(ctx context.Context, r *warrantyv1.ListCoversRequest) (*warrantyv1.ListCoversResponse, error) {
	serial, _, err := resname.Serial("parent", vehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	when, err := s.moment("on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	size, err := page.Size(r.GetPageSize(), standardPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	g, err := s.gather(ctx, serial, when)
	if err != nil {
		return nil, err
	}
	reach := g.reach(when.on)
	answer := &warrantyv1.ListCoversResponse{}
	for _, position := range g.positions() {
		if after != "" && position <= lastPosition(after) {
			continue
		}
		if len(answer.Covers) == size {
			answer.NextPageToken = page.Token(r, answer.Covers[size-1].GetName())
			break
		}
		c, err := s.cover(ctx, g, position, reach, nil)
		if err != nil {
			return nil, err
		}
		answer.Covers = append(answer.Covers, s.discreetCover(ctx, g, c))
	}
	return vehiclewire.Alone(ctx, serial, answer), nil
}

// lastPosition is the position of a cover's name.
func lastPosition(name string) string { return positionOf(name[strings.LastIndexByte(name, '/')+1:]) }

// positions are the vehicle as a whole and every position that has a term of its
// own or was repaired under one, in order.
func (g *gathered) positions() []string {
	all := []string{""}
	for i := range g.conf.Fitted {
		c := &g.conf.Fitted[i].Component
		own := slices.ContainsFunc(g.terms, func(t warranty.Term) bool {
			return slices.Contains(t.Positions, c.Position) || slices.Contains(t.Parts, c.Part) && c.Part != ""
		})
		repaired := slices.ContainsFunc(g.facts.Repairs, func(r warranty.Repair) bool { return r.Position == c.Position && r.Term != "" })
		if own || repaired {
			all = append(all, c.Position)
		}
	}
	return all
}

// discreetCover takes out of an answer the names of claims that are not for the
// caller: to a dealer another's claims are not there, to an owner none are.
func (s *Service) discreetCover(ctx context.Context, g *gathered, m *warrantyv1.Cover) *warrantyv1.Cover {
	caller := access.CallerFrom(ctx)
	if !caller.Role.Limited() {
		return m
	}
	clear := func(record *string) {
		if c, ok := g.kept.Claim(*record); ok && (caller.Role != access.Dealer || !ofTheirs(caller, c.Message)) {
			*record = ""
		}
	}
	for _, r := range m.GetReasons() {
		clear(&r.Record)
	}
	for _, t := range m.GetTerms() {
		for _, r := range t.GetReasons() {
			clear(&r.Record)
		}
	}
	return m
}

// GetWarrantyDocument implements the WarrantyService.
func (s *Service) GetWarrantyDocument(ctx context.Context, r *warrantyv1.GetWarrantyDocumentRequest) (*warrantyv1.WarrantyDocument, error) {
	serial, _, err := resname.Serial("name", warrantywire.PaperForm, r.GetName())
	if err != nil {
		return nil, err
	}
	when := moment{s.today(), s.now()}
	g, err := s.gather(ctx, serial, when)
	if err != nil {
		return nil, err
	}
	q, err := s.question(ctx, g, "")
	if err != nil {
		return nil, err
	}
	q.Distance = g.reach(when.on).True()
	return vehiclewire.Alone(ctx, serial, warrantywire.DocumentProto(serial, warranty.Write(q, s.config.Contact))), nil
}

const vehicleForm = "vehicles/{serial}"
