package warrantyrpc

import (
	"context"
	"slices"
	"strconv"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantystore"
	"halfshaft/services/warranty/warrantywire"
)

// maxClaimBytes keeps a claim, with its cover, its steps and its decisions, well
// below what one key holds.
const maxClaimBytes = 160 << 10

// ofTheirs reports whether the caller's own organisation made a claim.
func ofTheirs(caller access.Caller, m *warrantyv1.Claim) bool {
	return caller.Organisation != "" && caller.Organisation == m.GetOrganisation()
}

// maySee reports whether a claim is there for the caller: to a dealer those of
// others are not.
func maySee(ctx context.Context, m *warrantyv1.Claim) bool {
	caller := access.CallerFrom(ctx)
	return caller.Role != access.Dealer || ofTheirs(caller, m)
}

// found gives a claim that is there for the caller.
func (s *Service) found(ctx context.Context, serial vehicle.Serial, id string) (warrantystore.Claim, error) {
	stored, ok := s.store.Vehicle(serial).Claim(warranty.ClaimName(serial, id))
	if !ok || !maySee(ctx, stored.Message) {
		return warrantystore.Claim{}, fault.New(fault.NotFound, "CLAIM_NOT_FOUND", "There is no such claim on %s.", serial)
	}
	return stored, nil
}

// read gives a stored claim as the domain has it, the cover kept with it
// included.
func (s *Service) read(m *warrantyv1.Claim) (warranty.Claim, error) {
	c, err := warrantywire.Claim(m)
	if err != nil {
		return c, err
	}
	c.Cover, err = warrantywire.Cover(m.GetCover(), s.term)
	return c, err
}

// written gives a claim as it is stored and answered; cover is the message that
// is kept with it.
func (s *Service) written(c *warranty.Claim, cover *warrantyv1.Cover) *warrantyv1.Claim {
	m := warrantywire.ClaimProto(c)
	m.Cover = cover
	m.AnswerByDate = vehiclewire.DateProto(c.AnswerBy(s.config.Appeals))
	return m
}

// answered completes a claim as it was stored with what is not.
func (s *Service) answered(ctx context.Context, m *warrantyv1.Claim, revision int64) (*warrantyv1.Claim, error) {
	c, err := warrantywire.Claim(m)
	if err != nil {
		return nil, err
	}
	m.Etag, m.Totals = kv.Etag(revision), warrantywire.TotalsProto(c.Totals())
	m.AnswerByDate = vehiclewire.DateProto(c.AnswerBy(s.config.Appeals))
	return vehiclewire.Alone(ctx, c.Serial, m), nil
}

// move is who does something, when, and what they say, with both of the days that
// the moment may be.
func (s *Service) move(ctx context.Context, serial vehicle.Serial, text string) warranty.Move {
	now := s.now()
	works, owners := warranty.DaysAt(now, s.config.Zone, s.zones.of(ctx, ownerOn(s.ties.of(serial), s.today())))
	if owners.Before(works) {
		works, owners = owners, works
	}
	return warranty.Move{By: by(ctx), Time: now, On: works, Latest: owners, Text: text}
}

// CreateClaim implements the WarrantyService.
func (s *Service) CreateClaim(ctx context.Context, r *warrantyv1.CreateClaimRequest) (*warrantyv1.Claim, error) {
	serial, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	move := s.move(ctx, serial, "")
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &warrantyv1.Claim{}, func() (*warrantyv1.Claim, warrantystore.Record, error) {
		kept := s.store.Vehicle(serial)
		c := &checker{}
		c.must(len(kept.Claims) < maxPerVehicle, "parent", strconv.Itoa(len(kept.Claims))+" records", "fewer than 2,000 for one vehicle")
		if err := c.err(); err != nil {
			return nil, warrantystore.Record{}, err
		}
		said, err := s.said(ctx, serial, r.GetClaim())
		if err != nil {
			return nil, warrantystore.Record{}, fault.Under("claim", err)
		}
		said.ID = kv.NewID()
		draft, err := warranty.Begin(said, move)
		if err != nil {
			return nil, warrantystore.Record{}, fault.Under("claim", err)
		}
		return s.record(&draft, nil, 0)
	})
	if err != nil {
		return nil, err
	}
	return s.answered(ctx, answer, result.Revision)
}

// record is a claim and where it goes.
func (s *Service) record(c *warranty.Claim, cover *warrantyv1.Cover, was int64) (*warrantyv1.Claim, warrantystore.Record, error) {
	m := s.written(c, cover)
	if n := proto.Size(m); n > maxClaimBytes {
		return nil, warrantystore.Record{}, fault.InvalidField("claim", strconv.Itoa(n)+" bytes", "at most 163,840 bytes with all that was said to it")
	}
	return m, warrantystore.Record{Key: warrantystore.Claims.Key(c.Serial, c.ID), Message: m, Was: was}, nil
}

// said reads what a claim of a vehicle says of the failure, the work and the
// costs, and checks what it names.
func (s *Service) said(ctx context.Context, serial vehicle.Serial, m *warrantyv1.Claim) (warranty.Claim, error) {
	if m == nil {
		return warranty.Claim{}, fault.InvalidField("", "", "a claim")
	}
	from := proto.CloneOf(m)
	from.Name = ""
	c := &checker{}
	if organisation := dealerIn(ctx); organisation != "" {
		from.Organisation = organisation // nobody claims for another
	}
	if from.GetOrganisation() != "" {
		_, err := resname.Match("organisation", "organisations/{organisation}", from.GetOrganisation())
		c.must(err == nil, "organisation", from.GetOrganisation(), "organisations/{organisation}, or nothing for the works")
	}
	if from.GetServiceEntry() != "" {
		of, ids, err := resname.Serial("service_entry", "vehicles/{serial}/serviceEntries/{service_entry}", from.GetServiceEntry())
		known := err == nil && of == serial
		if known {
			from.ServiceEntry = "vehicles/" + string(serial) + "/serviceEntries/" + ids[0]
			entries, err := s.entries(ctx, serial)
			if err != nil {
				return warranty.Claim{}, err
			}
			known = slices.ContainsFunc(entries, func(e *schedulev1.ServiceEntry) bool { return e.GetName() == from.GetServiceEntry() })
		}
		c.must(known, "service_entry", from.GetServiceEntry(), "a service entry of this vehicle that stands, or nothing")
	}
	read, err := warrantywire.Claim(from)
	c.add(fault.FieldsOf("", err))
	read.Serial = serial
	return read, c.err()
}

// UpdateClaim implements the WarrantyService.
func (s *Service) UpdateClaim(ctx context.Context, r *warrantyv1.UpdateClaimRequest) (*warrantyv1.Claim, error) {
	serial, ids, err := resname.Serial("claim.name", warrantywire.ClaimForm, r.GetClaim().GetName())
	if err != nil {
		return nil, err
	}
	move := s.move(ctx, serial, "")
	return s.change(ctx, serial, ids[0], quoted{"claim.etag", r.GetClaim().GetEtag()}, r.GetRequestId(), r,
		func(c warranty.Claim, cover *warrantyv1.Cover) (warranty.Claim, *warrantyv1.Cover, error) {
			said, err := s.said(ctx, serial, r.GetClaim())
			if err != nil {
				return c, nil, fault.Under("claim", err)
			}
			next, err := c.Edited(said, move)
			return next, cover, fault.Under("claim", err)
		})
}

// quoted is the version that a change is based on, and the field that says so.
type quoted struct{ field, etag string }

// change reads a claim, lets act decide what becomes of it, and writes that,
// once for each request.
func (s *Service) change(ctx context.Context, serial vehicle.Serial, id string, on quoted, requestID string, payload proto.Message,
	act func(warranty.Claim, *warrantyv1.Cover) (warranty.Claim, *warrantyv1.Cover, error),
) (*warrantyv1.Claim, error) {
	answer, result, err := once(ctx, s, requestID, payload, &warrantyv1.Claim{}, func() (*warrantyv1.Claim, warrantystore.Record, error) {
		stored, err := s.found(ctx, serial, id)
		if err != nil {
			return nil, warrantystore.Record{}, err
		}
		if err := kv.Matches(on.field, on.etag, stored.Revision); err != nil {
			return nil, warrantystore.Record{}, err
		}
		c, err := s.read(stored.Message)
		if err != nil {
			return nil, warrantystore.Record{}, err
		}
		next, cover, err := act(c, stored.Message.GetCover())
		if err != nil {
			return nil, warrantystore.Record{}, err
		}
		return s.record(&next, cover, stored.Revision)
	})
	if err != nil {
		return nil, err
	}
	return s.answered(ctx, answer, result.Revision)
}

// GetClaim implements the WarrantyService.
func (s *Service) GetClaim(ctx context.Context, r *warrantyv1.GetClaimRequest) (*warrantyv1.Claim, error) {
	serial, ids, err := resname.Serial("name", warrantywire.ClaimForm, r.GetName())
	if err != nil {
		return nil, err
	}
	stored, err := s.found(ctx, serial, ids[0])
	if err != nil {
		return nil, err
	}
	return s.answered(ctx, proto.CloneOf(stored.Message), stored.Revision)
}

// ListClaims implements the WarrantyService.
func (s *Service) ListClaims(ctx context.Context, r *warrantyv1.ListClaimsRequest) (*warrantyv1.ListClaimsResponse, error) {
	serials := s.store.Serials()
	if r.GetParent() != "vehicles/-" {
		serial, err := s.parent(ctx, r.GetParent())
		if err != nil {
			return nil, err
		}
		serials = []vehicle.Serial{serial}
	}
	var all []warrantystore.Claim
	for _, serial := range serials {
		for _, c := range s.store.Vehicle(serial).Claims {
			if maySee(ctx, c.Message) && (len(r.GetStates()) == 0 || slices.Contains(r.GetStates(), c.Message.GetState())) {
				all = append(all, c)
			}
		}
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), all, func(c warrantystore.Claim) string {
		return latestFirst(c.Message.GetCreateTime().AsTime().UnixMicro(), c.Message.GetName())
	})
	if err != nil {
		return nil, err
	}
	answer := &warrantyv1.ListClaimsResponse{NextPageToken: next}
	for _, c := range few {
		m, err := s.answered(ctx, proto.CloneOf(c.Message), c.Revision)
		if err != nil {
			return nil, err
		}
		answer.Claims = append(answer.Claims, m)
	}
	return answer, nil
}
