package warrantyrpc

import (
	"context"
	"slices"

	"google.golang.org/protobuf/proto"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantywire"
)

// moving is a request that does something to a claim.
type moving interface {
	proto.Message
	GetName() string
	GetEtag() string
	GetRequestId() string
}

// step does to a claim what a request asks, and keeps the cover with it.
func (s *Service) step(ctx context.Context, r moving, text string, act func(warranty.Claim, warranty.Move) (warranty.Claim, error)) (*warrantyv1.Claim, error) {
	return s.look(ctx, r, text, func(c warranty.Claim, m warranty.Move, cover *warrantyv1.Cover) (warranty.Claim, *warrantyv1.Cover, error) {
		next, err := act(c, m)
		return next, cover, err
	})
}

// look is step for what may look at the cover anew.
func (s *Service) look(ctx context.Context, r moving, text string,
	act func(warranty.Claim, warranty.Move, *warrantyv1.Cover) (warranty.Claim, *warrantyv1.Cover, error),
) (*warrantyv1.Claim, error) {
	serial, ids, err := resname.Serial("name", warrantywire.ClaimForm, r.GetName())
	if err != nil {
		return nil, err
	}
	move := s.move(ctx, serial, text)
	return s.change(ctx, serial, ids[0], quoted{"etag", r.GetEtag()}, r.GetRequestId(), r,
		func(c warranty.Claim, cover *warrantyv1.Cover) (warranty.Claim, *warrantyv1.Cover, error) {
			return act(c, move, cover)
		})
}

// coverOf asks for the cover on the day of a claim's failure, as it is kept with
// it: with what the examination found, and by the ledger. What the claim says of
// the odometer is not asked: it is no reading until it is recorded as one, and
// then it is in the ledger.
func (s *Service) coverOf(ctx context.Context, c *warranty.Claim) (*warranty.Cover, *warrantyv1.Cover, error) {
	if c.Failed.IsZero() {
		return nil, nil, nil // the domain refuses the claim without a day
	}
	g, err := s.gather(ctx, c.Serial, moment{on: c.Failed})
	if err != nil {
		return nil, nil, err
	}
	if err := s.asItFailed(g, c); err != nil {
		return nil, nil, err
	}
	kept, err := s.cover(ctx, g, c.Position, g.reach(c.Failed), c.Exclusions)
	if err != nil {
		return nil, nil, err
	}
	kept = vehiclewire.Alone(ctx, c.Serial, s.discreetCover(ctx, g, kept))
	read, err := warrantywire.Cover(kept, s.term)
	return read, kept, err
}

// asItFailed brings what is on record to what there was when a claim's part
// failed. Most faults are put right on the day on which they are found: then what
// stands there in the evening is not what failed, and the repair covers nothing
// that it was made for.
func (s *Service) asItFailed(g *gathered, c *warranty.Claim) error {
	if c.Failed.After(g.record.Built) {
		_, releases := s.fleet.find(g.serial)
		before, err := build.Configure(g.record, g.changes, releases, c.Failed.AddDays(-1))
		if err != nil {
			return err
		}
		now, stood := g.conf.At(c.Position), before.At(c.Position)
		if stood != nil && (now == nil || now.Change != stood.Change) {
			g.conf = before
		}
	}
	g.facts.Repairs = slices.DeleteFunc(g.facts.Repairs, func(r warranty.Repair) bool {
		if r.Record == c.Name() {
			return true
		}
		if i := slices.IndexFunc(g.changes, func(made build.Change) bool { return made.Name() == r.Record }); i >= 0 {
			return r.Date == c.Failed
		}
		other, ok := g.kept.Claim(r.Record)
		return ok && c.ServiceEntry != "" && other.Message.GetServiceEntry() == c.ServiceEntry
	})
	return nil
}

// SubmitClaim implements the WarrantyService.
func (s *Service) SubmitClaim(ctx context.Context, r *warrantyv1.SubmitClaimRequest) (*warrantyv1.Claim, error) {
	return s.look(ctx, r, r.GetText(), func(c warranty.Claim, m warranty.Move, _ *warrantyv1.Cover) (warranty.Claim, *warrantyv1.Cover, error) {
		cover, kept, err := s.coverOf(ctx, &c)
		if err != nil {
			return c, nil, err
		}
		next, err := c.Submit(m, cover)
		return next, kept, err
	})
}

// AskClaimant implements the WarrantyService.
func (s *Service) AskClaimant(ctx context.Context, r *warrantyv1.AskClaimantRequest) (*warrantyv1.Claim, error) {
	return s.step(ctx, r, r.GetText(), func(c warranty.Claim, m warranty.Move) (warranty.Claim, error) { return c.Ask(m) })
}

// AuthoriseClaim implements the WarrantyService.
func (s *Service) AuthoriseClaim(ctx context.Context, r *warrantyv1.AuthoriseClaimRequest) (*warrantyv1.Claim, error) {
	return s.step(ctx, r, r.GetText(), func(c warranty.Claim, m warranty.Move) (warranty.Claim, error) {
		return c.Authorise(m, r.GetLimitMinor())
	})
}

// DecideClaim implements the WarrantyService. Where the cover that is kept says
// that nothing is owed, and the decision that something is, it is looked at anew:
// the record may have been put right since the claim was handed in.
func (s *Service) DecideClaim(ctx context.Context, r *warrantyv1.DecideClaimRequest) (*warrantyv1.Claim, error) {
	return s.look(ctx, r, "", func(c warranty.Claim, m warranty.Move, kept *warrantyv1.Cover) (warranty.Claim, *warrantyv1.Cover, error) {
		if r.GetDecision() == nil {
			return c, nil, fault.InvalidField("decision", "", "a decision with its reason")
		}
		d, err := warrantywire.Decision(r.GetDecision())
		if err != nil {
			return c, nil, fault.InvalidField("decision.appeal_until_date", "", "nothing: it is worked out")
		}
		if d.Owed() && c.Cover != nil && c.Cover.State == warranty.NotCovered {
			if c.Cover, kept, err = s.coverOf(ctx, &c); err != nil {
				return c, nil, err
			}
		}
		next, err := c.Decide(m, d, s.config.Appeals)
		return next, kept, err
	})
}

// AppealClaim implements the WarrantyService.
func (s *Service) AppealClaim(ctx context.Context, r *warrantyv1.AppealClaimRequest) (*warrantyv1.Claim, error) {
	return s.look(ctx, r, r.GetText(), func(c warranty.Claim, m warranty.Move, kept *warrantyv1.Cover) (warranty.Claim, *warrantyv1.Cover, error) {
		cover, anew, err := s.coverOf(ctx, &c)
		if err != nil {
			return c, nil, err
		}
		if anew == nil {
			anew = kept
		}
		next, err := c.Appeal(m, cover)
		return next, anew, err
	})
}

// RecordRecovery implements the WarrantyService.
func (s *Service) RecordRecovery(ctx context.Context, r *warrantyv1.RecordRecoveryRequest) (*warrantyv1.Claim, error) {
	return s.step(ctx, r, "", func(c warranty.Claim, m warranty.Move) (warranty.Claim, error) {
		back := warrantywire.Recovery(r.GetRecovery())
		if back.Term != "" {
			t, ok := s.term(back.Term)
			if !ok || t.Giver != warranty.Supplier {
				return c, fault.InvalidField("recovery.term", back.Term, "a version of a supplier's term, or nothing")
			}
			if t.Supplier != back.Supplier {
				return c, fault.InvalidField("recovery.supplier", back.Supplier, t.Supplier+", who gave the term, or no term")
			}
		}
		return c.Recover(m, back)
	})
}

// CloseClaim implements the WarrantyService.
func (s *Service) CloseClaim(ctx context.Context, r *warrantyv1.CloseClaimRequest) (*warrantyv1.Claim, error) {
	return s.step(ctx, r, r.GetText(), func(c warranty.Claim, m warranty.Move) (warranty.Claim, error) { return c.Close(m) })
}

// WithdrawClaim implements the WarrantyService.
func (s *Service) WithdrawClaim(ctx context.Context, r *warrantyv1.WithdrawClaimRequest) (*warrantyv1.Claim, error) {
	return s.step(ctx, r, r.GetText(), func(c warranty.Claim, m warranty.Move) (warranty.Claim, error) { return c.Withdraw(m) })
}

// ListClaimSums implements the WarrantyService.
func (s *Service) ListClaimSums(_ context.Context, r *warrantyv1.ListClaimSumsRequest) (*warrantyv1.ListClaimSumsResponse, error) {
	c := &checker{}
	known := r.GetSumBy() > warrantyv1.SumBy_SUM_BY_UNSPECIFIED && warrantyv1.SumBy_name[int32(r.GetSumBy())] != ""
	c.must(known, "sum_by", r.GetSumBy().String(), "VEHICLE, POSITION, PART, LOT, SUPPLIER or QUARTER")
	from, err := vehiclewire.Date(r.GetStartDate())
	c.must(err == nil, "start_date", r.GetStartDate().String(), "a day of the calendar")
	to, err := vehiclewire.Date(r.GetEndDate())
	c.must(err == nil, "end_date", r.GetEndDate().String(), "a day of the calendar")
	c.must(to.IsZero() || !to.Before(from), "end_date", to.String(), "the start, "+from.String()+", or later")
	if err := c.err(); err != nil {
		return nil, err
	}
	var claims []warranty.Claim
	for _, serial := range s.store.Serials() {
		for _, stored := range s.store.Vehicle(serial).Claims {
			claim, err := warrantywire.Claim(stored.Message)
			if err != nil {
				return nil, err
			}
			claims = append(claims, claim)
		}
	}
	sums := warranty.Sums(claims, warranty.SumBy(r.GetSumBy()), from, to)
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), sums, func(x warranty.Sum) string { return x.Key + "\x00" + x.Currency })
	if err != nil {
		return nil, err
	}
	answer := &warrantyv1.ListClaimSumsResponse{NextPageToken: next}
	for _, x := range few {
		answer.ClaimSums = append(answer.ClaimSums, warrantywire.SumProto(x))
	}
	return answer, nil
}
