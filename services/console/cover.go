package console

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// Cover prints whether a position of a vehicle is under warranty; without a
// position, the vehicle as a whole and every position with a term of its own.
// The day is zero for today, and so is the distance for what the readings say.
func (c *Console) Cover(ctx context.Context, serial, position string, on vehicle.Date, distance string) error {
	said, err := odometer("distance", distance, "")
	if err != nil {
		return err
	}
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	parent, day := "vehicles/"+serialOf(name), vehiclewire.DateProto(on)
	if position == "" && said == nil {
		all, err := page.All(func(token string) ([]*warrantyv1.Cover, string, error) {
			r, err := c.Warranties.ListCovers(ctx, &warrantyv1.ListCoversRequest{Parent: parent, OnDate: day, PageSize: 500, PageToken: token})
			return r.GetCovers(), r.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		unit := c.unitOf(ctx, serialOf(name))
		return printAll(c, all, func(s *sheet) {
			for i, one := range all {
				if i > 0 {
					s.line("")
				}
				coverSheet(s, one, unit)
			}
		})
	}
	if position, err = c.positionSaid(ctx, cmp.Or(position, "vehicle")); err != nil {
		return err
	}
	m, err := c.Warranties.GetCover(ctx, &warrantyv1.GetCoverRequest{Name: parent + "/covers/" + position, OnDate: day, Distance: said})
	if err != nil {
		return err
	}
	unit := c.unitOf(ctx, serialOf(name))
	return c.print(m, func(s *sheet) { coverSheet(s, m, unit) })
}

// positionSaid is the position that words mean: "left swivel housing" is
// "swivel-housing-left". Where they may mean several, it asks which.
func (c *Console) positionSaid(ctx context.Context, said string) (string, error) {
	words := strings.Fields(strings.ToLower(said))
	if len(words) == 1 {
		return words[0], nil
	}
	all, err := page.All(func(token string) ([]*partsv1.Position, string, error) {
		r, err := c.Parts.ListPositions(ctx, &partsv1.ListPositionsRequest{PageSize: 500, PageToken: token})
		return r.GetPositions(), r.GetNextPageToken(), err
	})
	if err != nil {
		return "", err
	}
	var met, whole []string
	for _, p := range all {
		known := strings.ToLower(strings.ReplaceAll(idOf(p.GetName()), "-", " ") + " " + p.GetTitle() + " " + strings.Join(p.GetWords(), " "))
		if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(" "+known, " "+w) }) {
			met = append(met, idOf(p.GetName()))
			if p.GetWithin() == "" { // a small place of an assembly is said by its name
				whole = append(whole, idOf(p.GetName()))
			}
		}
	}
	if len(whole) > 0 {
		met = whole
	}
	switch len(met) {
	case 1:
		return met[0], nil
	case 0:
		return "", fault.InvalidField("position", said, "a place on the vehicle, as in gearbox or swivel-housing-left")
	}
	const most = 6
	if n := len(met) - most; n > 0 {
		met = append(met[:most], fmt.Sprintf("%d more", n))
	}
	return "", fault.InvalidField("position", said, "one place: it may mean "+strings.Join(met, ", "))
}

// coverSheet says what is covered, until when, why, and what to ask.
func coverSheet(s *sheet, m *warrantyv1.Cover, unit string) {
	s.line("%s  %s", serialOf(m.GetName()), idOf(m.GetName()))
	s.text("  ", m.GetSentence())
	said := "on " + day(m.GetOnDate())
	if m.GetDistance() != nil {
		said += ", at " + distance(m.GetDistance(), unit) + " of true distance"
		if m.GetDistanceEstimated() {
			said += ", worked out from the readings"
		}
	}
	s.line("  %s", said)
	coverReasons(s, "  - ", m)
	if m.GetQuestion() != "" {
		s.text("  ask: ", m.GetQuestion())
	}
	for _, t := range m.GetTerms() {
		termCoverSheet(s, t, unit)
	}
}

// coverReasons are those that the answer in one sentence does not say already, with
// the lines of the terms.
func coverReasons(s *sheet, mark string, m *warrantyv1.Cover) {
	said := []string{"COVERED", "COVERED_REPAIR"} // by what, and until when
	if m.GetCoversParts() && m.GetCoversLabour() {
		said = append(said, "PAYS")
	}
	for _, r := range m.GetReasons() {
		if !slices.Contains(said, r.GetRule()) && !strings.Contains(m.GetSentence(), r.GetSentence()) {
			s.text(mark, r.GetSentence())
		}
	}
}

// termCoverSheet is a line for one term.
func termCoverSheet(s *sheet, t *warrantyv1.TermCover, unit string) {
	line := t.GetTitle() + " (" + t.GetTerm() + "): " + word(t.GetState(), "COVER_STATE_")
	if t.GetStartDate() != nil {
		line += ", from " + day(t.GetStartDate())
	}
	if t.GetLastDate() != nil {
		line += " up to and including " + day(t.GetLastDate())
	}
	if t.GetUntilDistance() != nil {
		line += ", up to " + distance(t.GetUntilDistance(), unit)
	}
	if t.GetDaysAdded() > 0 {
		line += ", " + plural(int(t.GetDaysAdded()), "day", "days") + " added"
	}
	if t.GetOfRepair() {
		line += ", of a repair"
	}
	s.text("  * ", line)
}

// unitOf is the unit of the vehicle's dial; none where it is not known.
func (c *Console) unitOf(ctx context.Context, serial string) string {
	conf, err := c.configuration(ctx, "builds/"+serial, vehicle.Date{})
	if err != nil {
		return ""
	}
	return conf.GetDial().GetUnit()
}

// WarrantyDocument prints the warranty of a vehicle for its owner.
func (c *Console) WarrantyDocument(ctx context.Context, serial string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	m, err := c.Warranties.GetWarrantyDocument(ctx, &warrantyv1.GetWarrantyDocumentRequest{Name: "vehicles/" + serialOf(name) + "/warrantyDocument"})
	if err != nil {
		return err
	}
	return c.print(m, func(s *sheet) {
		for _, section := range m.GetSections() {
			s.heading("%s", section.GetTitle())
			for _, p := range section.GetParagraphs() {
				s.text("  ", p)
			}
		}
	})
}

// AddWarrantyTerm enters a version of a term that stands in a file.
func (c *Console) AddWarrantyTerm(ctx context.Context, raw []byte) error {
	m := &warrantyv1.WarrantyTerm{}
	if err := readYAML(raw, m); err != nil {
		return err
	}
	made, err := c.Warranties.CreateWarrantyTerm(ctx, &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: m, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) { termSheet(s, made) })
}

// WarrantyTerms prints every version of every term.
func (c *Console) WarrantyTerms(ctx context.Context) error {
	all, err := page.All(func(token string) ([]*warrantyv1.WarrantyTerm, string, error) {
		r, err := c.Warranties.ListWarrantyTerms(ctx, &warrantyv1.ListWarrantyTermsRequest{PageSize: 500, PageToken: token})
		return r.GetWarrantyTerms(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		for _, m := range all {
			termSheet(s, m)
		}
		if len(all) == 0 {
			s.line("Nobody promises anything yet.")
		}
	})
}

// termSheet says what a version promises.
func termSheet(s *sheet, m *warrantyv1.WarrantyTerm) {
	giver := "the works"
	if m.GetSupplier() != "" {
		giver = m.GetSupplier()
	}
	s.text(m.GetName()+"  ", fmt.Sprintf("%s, by %s, for vehicles and units from %s", m.GetTitle(), giver, day(m.GetEffectiveDate())))
	limits := "from " + word(m.GetStart(), "WARRANTY_START_")
	if m.GetMonths() > 0 {
		limits += " for " + plural(int(m.GetMonths()), "month", "months")
	}
	switch {
	case m.GetDistance() != nil && m.GetMonths() > 0:
		limits += " or " + distance(m.GetDistance(), m.GetDistance().GetEnteredUnit())
	case m.GetDistance() != nil:
		limits += " for " + distance(m.GetDistance(), m.GetDistance().GetEnteredUnit())
	case m.GetMonths() == 0:
		limits += " without an end"
	}
	if len(m.GetPositions())+len(m.GetParts()) > 0 {
		limits += ", of " + wording.List(append(append([]string{}, m.GetPositions()...), m.GetParts()...), "and")
	}
	if m.GetWithdrawn() {
		limits += "; withdrawn: nobody gets it any more"
	}
	s.text("  ", limits)
	if m.GetSample() {
		s.line("  sample, to be signed by the works' engineer")
	}
}

// OutOfService is a time in which a vehicle could not be used, as typed.
type OutOfService struct {
	Serial, Name  string // of a new one the serial, of one to change its name
	Start, End    vehicle.Date
	Reason, Claim string
	Counts        bool
}

// RecordOutOfService records such a time.
func (c *Console) RecordOutOfService(ctx context.Context, o OutOfService) error {
	name, err := c.open(ctx, o.Serial)
	if err != nil {
		return err
	}
	m, err := c.Warranties.CreateOutOfServiceSpan(ctx, &warrantyv1.CreateOutOfServiceSpanRequest{
		Parent: "vehicles/" + serialOf(name), RequestId: uuid.NewString(), OutOfServiceSpan: &warrantyv1.OutOfServiceSpan{
			StartDate: vehiclewire.DateProto(o.Start), EndDate: vehiclewire.DateProto(o.End), Reason: o.Reason, Claim: o.Claim, Counts: o.Counts,
		}})
	if err != nil {
		return err
	}
	return c.print(m, func(s *sheet) { spanSheet(s, m) })
}

// EndOutOfService says on which day a vehicle could be used again, and whether
// the time counts.
func (c *Console) EndOutOfService(ctx context.Context, o OutOfService) error {
	m, err := c.span(ctx, o.Name)
	if err != nil {
		return err
	}
	m.EndDate, m.Counts = vehiclewire.DateProto(o.End), o.Counts
	if o.Reason != "" {
		m.Reason = o.Reason
	}
	if m, err = c.Warranties.UpdateOutOfServiceSpan(ctx, &warrantyv1.UpdateOutOfServiceSpanRequest{OutOfServiceSpan: m, RequestId: uuid.NewString()}); err != nil {
		return err
	}
	return c.print(m, func(s *sheet) { spanSheet(s, m) })
}

// span finds a time out of service by its name, among those of its vehicle.
func (c *Console) span(ctx context.Context, name string) (*warrantyv1.OutOfServiceSpan, error) {
	all, err := c.spans(ctx, "vehicles/"+serialOf(name))
	if err != nil {
		return nil, err
	}
	for _, m := range all {
		if m.GetName() == name {
			return m, nil
		}
	}
	return &warrantyv1.OutOfServiceSpan{Name: name}, nil // the service says that there is none
}

func (c *Console) spans(ctx context.Context, parent string) ([]*warrantyv1.OutOfServiceSpan, error) {
	return page.All(func(token string) ([]*warrantyv1.OutOfServiceSpan, string, error) {
		r, err := c.Warranties.ListOutOfServiceSpans(ctx, &warrantyv1.ListOutOfServiceSpansRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetOutOfServiceSpans(), r.GetNextPageToken(), err
	})
}

// OutOfServiceSpans prints when a vehicle could not be used.
func (c *Console) OutOfServiceSpans(ctx context.Context, serial string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	all, err := c.spans(ctx, "vehicles/"+serialOf(name))
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		for _, m := range all {
			spanSheet(s, m)
		}
		if len(all) == 0 {
			s.line("It was never out of service.")
		}
	})
}

func spanSheet(s *sheet, m *warrantyv1.OutOfServiceSpan) {
	when, counts := "since "+day(m.GetStartDate()), "does not count"
	if m.GetEndDate() != nil {
		when = "from " + day(m.GetStartDate()) + " to " + day(m.GetEndDate())
	}
	if m.GetCounts() {
		counts = "counts"
	}
	s.text(serialOf(m.GetName())+"  ", fmt.Sprintf("%s, %s: %s", when, counts, m.GetReason()))
	s.line("         %s", m.GetName())
}
