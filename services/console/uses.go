package console

import (
	"context"
	"errors"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// UsesQuestion says where what is used; at least one of part, lot and serial.
type UsesQuestion struct {
	Part, Lot, Serial string
	WithSupersessions bool
	From, Until, On   vehicle.Date // zero for all days, and for the server's today
}

// WhereUsed prints which vehicles have, had and may have a part, a lot or a
// component: first how many, then each use with its days and the reasons.
func (c *Console) WhereUsed(ctx context.Context, q UsesQuestion) error {
	req := &partsv1.ListUsesRequest{
		Lot: q.Lot, ComponentSerial: q.Serial, WithSupersessions: q.WithSupersessions,
		FromDate: vehiclewire.DateProto(q.From), UntilDate: vehiclewire.DateProto(q.Until), OnDate: vehiclewire.DateProto(q.On), PageSize: 500,
	}
	if q.Part != "" {
		req.Part = "parts/" + strings.Join(strings.Fields(q.Part), "")
	}
	s := &sheet{}
	for first := true; first || req.PageToken != ""; first = false {
		page, err := c.Parts.ListUses(ctx, req)
		if err != nil {
			return err
		}
		if first && !c.JSON {
			usesHead(s, q, page)
		}
		for _, u := range page.GetUses() {
			if c.JSON {
				raw, err := protojson.Marshal(u)
				if err != nil {
					return err
				}
				s.line("%s", raw)
			} else {
				useText(s, u, q.On)
			}
		}
		if _, err := c.Out.Write([]byte(s.String())); err != nil {
			return err
		}
		s.Reset()
		if req.PageToken = page.GetNextPageToken(); first && len(page.GetUses()) == 0 {
			return errors.Join(err, ErrRefused) // a script sees that nobody has it
		}
	}
	return nil
}

// usesHead says what was asked, and how many vehicles there are.
func usesHead(s *sheet, q UsesQuestion, page *partsv1.ListUsesResponse) {
	var asked []string
	if q.Serial != "" {
		asked = append(asked, "the component with the serial "+q.Serial)
	}
	if q.Lot != "" {
		asked = append(asked, "lot "+q.Lot)
	}
	if q.Part != "" {
		part := q.Part
		if q.WithSupersessions {
			part += " and what stands before and after it in its chain"
		}
		asked = append(asked, part)
	}
	what := strings.Join(asked, " of ")
	when := ""
	if !q.On.IsZero() {
		when = ", on " + q.On.Long()
	}
	s.line("%s%s", wording.UpperFirst(what), when)
	if len(page.GetUses()) == 0 {
		s.line("  No vehicle has it, had it or may have it%s. Looked at were:", q.days())
		for _, looked := range q.lookedAt() {
			s.text("    - ", looked)
		}
		return
	}
	var counts []string
	count := func(n int32, one, many string) {
		if n > 0 {
			counts = append(counts, plural(int(n), "vehicle "+one, "vehicles "+many))
		}
	}
	count(page.GetHasCount(), "has it", "have it")
	count(page.GetHadCount(), "had it and has it no more", "had it and have it no more")
	count(page.GetMayHaveCount(), "may have it, or have had it", "may have it, or have had it")
	s.text("  ", strings.Join(counts, "; ")+".")
}

// days says which days a question is limited to.
func (q UsesQuestion) days() string {
	switch {
	case !q.From.IsZero() && !q.Until.IsZero():
		return " between " + q.From.Long() + " and " + q.Until.Long()
	case !q.From.IsZero():
		return " since " + q.From.Long()
	case !q.Until.IsZero():
		return " until " + q.Until.Long()
	}
	return ""
}

// lookedAt says what an answer rests on, so that nobody takes one that names no
// vehicle for more than it is.
func (q UsesQuestion) lookedAt() []string {
	if q.Part == "" {
		return []string{
			"the build record of every vehicle and all changes since, for units marked so, and for units of their part without a mark on record;",
			"the service entries of every vehicle, for what went in.",
		}
	}
	return []string{
		"the build record of every vehicle, what its release and options call for, and all changes since;",
		"the places at which the catalogue puts the part, or one that supersessions connect it with, or a kit that holds it or a part that it is renewed with, and for which vehicles;",
		"the service entries of every vehicle, for the part and for what may have brought it or taken its place.",
	}
}

// useText is one use: the vehicle, how sure it is, where, when, and why.
func useText(s *sheet, u *partsv1.Use, on vehicle.Date) {
	until, err := vehiclewire.Date(u.GetUntilDate())
	isOver := err == nil && !until.IsZero() && (on.IsZero() || !until.After(on))
	certainty := map[partsv1.UseCertainty]string{
		partsv1.UseCertainty_USE_CERTAINTY_HAS: "has it", partsv1.UseCertainty_USE_CERTAINTY_HAD: "had it", partsv1.UseCertainty_USE_CERTAINTY_MAY_HAVE: "may have it",
	}[u.GetCertainty()]
	if isOver && u.GetCertainty() == partsv1.UseCertainty_USE_CERTAINTY_MAY_HAVE {
		certainty = "may have had it"
	}
	position := u.GetPosition()
	if position == "" {
		position = "position not on record"
	}
	days := "since " + day(u.GetFromDate())
	if u.GetUntilDate() != nil {
		days = "from " + day(u.GetFromDate()) + " to " + day(u.GetUntilDate())
	}
	unit := u.GetPart()
	if u.GetComponentSerial() != "" {
		unit += ", serial " + u.GetComponentSerial()
	}
	if u.GetLot() != "" {
		unit += ", lot " + u.GetLot()
	}
	s.heading("%s %s: %s, %s, %s", serialOf(u.GetBuild()), certainty, position, unit, days)
	for _, r := range u.GetReasons() {
		s.text("    ", r.GetSentence())
	}
}
