package partsrpc

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partswire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ListUses implements the API. What was used in service is asked of the
// schedule service each time: a list that silently lacked it would clear
// vehicles that nobody may clear.
func (s *Service) ListUses(ctx context.Context, req *partsv1.ListUsesRequest) (*partsv1.ListUsesResponse, error) {
	question, err := s.useQuestion(req)
	if err != nil {
		return nil, err
	}
	size, err := page.Size(req.GetPageSize(), standardPage, largestPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(req, req.GetPageToken())
	if err != nil {
		return nil, err
	}
	if err := s.fleet.Synced(ctx); err != nil {
		return nil, outOfReach(err)
	}
	var ofLot []parts.UsedPart
	if question.Part == "" && question.Lot != "" {
		if ofLot, err = s.usedParts(ctx, nil, question.Lot); err != nil {
			return nil, err
		}
	}
	var search *parts.UseSearch
	err = s.fleet.uses.read(func(x *parts.UseIndex) error {
		var err error
		s.store.Read(func(c *parts.Catalogue) { search, err = x.Search(c, question, ofLot) })
		return err
	})
	if err != nil {
		return nil, err
	}
	var used []parts.UsedPart
	for numbers := range slices.Chunk(search.Parts(), mostPartsAsked) {
		more, err := s.usedParts(ctx, numbers, "")
		if err != nil {
			return nil, err
		}
		used = append(used, more...)
	}
	var found parts.UsePage
	err = s.fleet.uses.read(func(x *parts.UseIndex) error {
		var err error
		s.store.Read(func(c *parts.Catalogue) { found, err = x.Uses(c, search, used, after, size) })
		return err
	})
	if err != nil {
		return nil, err
	}
	resp := partswire.UsesProto(&found)
	if found.Next != "" {
		resp.NextPageToken = page.Token(req, found.Next)
	}
	return resp, nil
}

// useQuestion reads a request.
func (s *Service) useQuestion(req *partsv1.ListUsesRequest) (parts.UseQuestion, error) {
	var wrong []fault.Field
	bad := func(name, got, want string) { wrong = append(wrong, fault.Field{Name: name, Got: got, Want: want}) }
	q := parts.UseQuestion{Lot: req.GetLot(), Serial: req.GetComponentSerial(), WithSupersessions: req.GetWithSupersessions()}
	if req.GetPart() != "" {
		ids, err := resname.Match("part", "parts/{part}", req.GetPart())
		if err != nil || parts.NormalNumber(ids[0]) == "" {
			bad("part", req.GetPart(), "parts/{part}")
		} else {
			q.Part = ids[0]
		}
	}
	for name, text := range map[string]string{"lot": q.Lot, "component_serial": q.Serial} {
		if text != "" && (build.Fold(text) == "" || len(text) > resname.MaxSegment) {
			bad(name, text, "letters and digits, as marked")
		}
	}
	switch {
	case req.GetPart() == "" && q.Lot == "" && q.Serial == "":
		bad("part", "", "a part, unless a lot or a component_serial is given")
	case req.GetPart() == "" && q.WithSupersessions:
		bad("with_supersessions", "true", "a part with it: lots and components have no supersessions")
	}
	for _, d := range []struct {
		name string
		from *date.Date
		into *vehicle.Date
	}{{"from_date", req.GetFromDate(), &q.From}, {"until_date", req.GetUntilDate(), &q.Until}, {"on_date", req.GetOnDate(), &q.On}} {
		var err error
		if *d.into, err = vehiclewire.Date(d.from); err != nil {
			f := fault.FieldsOf("", err)[0]
			bad(d.name, f.Got, f.Want)
		}
	}
	if !q.Until.IsZero() && q.Until.Before(q.From) {
		bad("until_date", q.Until.String(), "not before from_date, "+q.From.String())
	}
	if q.On.IsZero() {
		q.On = vehicle.DateOf(s.clock().UTC())
	}
	return q, fault.InvalidFields(wrong)
}

// mostPartsAsked is how many parts one question to the schedule service names.
const mostPartsAsked = 100

// usedParts asks the schedule service which entries used parts or a lot, with
// the credentials of the caller.
func (s *Service) usedParts(ctx context.Context, numbers []string, lot string) ([]parts.UsedPart, error) {
	var used []parts.UsedPart
	err := page.Each(func(token string) ([]*schedulev1.PartUse, string, error) {
		r, err := s.schedules.ListPartsUsed(ctx, &schedulev1.ListPartsUsedRequest{Parts: numbers, Lot: lot, PageSize: largestPage, PageToken: token})
		if err != nil {
			return nil, "", entriesOutOfReach(err)
		}
		return r.GetUses(), r.GetNextPageToken(), nil
	}, func(u *schedulev1.PartUse) error {
		serial, _, err := resname.Serial("vehicle", "vehicles/{serial}", u.GetVehicle())
		if err != nil {
			return fmt.Errorf("read the parts used: %w", err)
		}
		date, err := vehiclewire.Date(u.GetServiceDate())
		if err != nil {
			return fmt.Errorf("read the parts used: %w", err)
		}
		used = append(used, parts.UsedPart{
			Vehicle: serial, Entry: u.GetServiceEntry(), Date: date,
			Part: u.GetUsed().GetPart(), Quantity: int(u.GetUsed().GetQuantity()), Lot: u.GetUsed().GetLot(),
		})
		return nil
	})
	return used, err
}

// entriesOutOfReach says of a schedule service that is not there, or that this
// process knows no way to, what it means; another refusal of it stands.
func entriesOutOfReach(err error) error {
	refusal := rpcerr.FromStatus(err)
	if refusal.Kind != fault.Unavailable && status.Code(err) != codes.Unimplemented || errors.Is(refusal.Cause, context.Canceled) {
		return refusal
	}
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "SCHEDULES_OUT_OF_REACH", RetryAfter: time.Second, Cause: err,
		Message: "the service entries cannot be asked now, and without them the list would lack vehicles",
	}
}
