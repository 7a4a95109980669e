package warrantywire

import (
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
)

// CoverProto writes an answer about a vehicle.
func CoverProto(serial vehicle.Serial, c *warranty.Cover) *warrantyv1.Cover {
	m := &warrantyv1.Cover{
		Name: CoverName(serial, c.Position), OnDate: vehiclewire.DateProto(c.On), Distance: known(c.Distance),
		State: warrantyv1.CoverState(c.State), Reasons: vehiclewire.Reasons(c.Reasons), Sentence: c.Sentence, Question: c.Question,
		Sample: c.Sample, CoversParts: c.Parts, CoversLabour: c.Work, Goodwill: c.Goodwill,
	}
	for i := range c.Terms {
		m.Terms = append(m.Terms, termCoverProto(&c.Terms[i]))
	}
	return m
}

func known(d warranty.TrueDistance) *vehiclev1.Distance {
	if !d.Known {
		return nil
	}
	return vehiclewire.DistanceProto(d.Value)
}

func termCoverProto(c *warranty.TermCover) *warrantyv1.TermCover {
	m := &warrantyv1.TermCover{
		Term: c.Term.Name(), Title: c.Term.Title, Giver: warrantyv1.WarrantyGiver(c.Term.Giver), Supplier: c.Term.Supplier,
		State: warrantyv1.CoverState(c.State), StartDate: vehiclewire.DateProto(c.First), LastDate: vehiclewire.DateProto(c.Last),
		DaysAdded: int32(c.Added), CoversParts: c.Term.CoversParts, CoversLabour: c.Term.CoversWork, OfRepair: c.OfRepair,
		Reasons: vehiclewire.Reasons(c.Reasons), Question: c.Question, EndedBy: warrantyv1.WarrantyLimb(c.EndedBy),
	}
	if c.Limited {
		m.UntilDistance = vehiclewire.DistanceProto(c.Until)
	}
	return m
}

// Cover reads an answer that was kept with a claim. term finds a version by its
// name: versions never change, so that a name is enough to keep.
func Cover(m *warrantyv1.Cover, term func(name string) (warranty.Term, bool)) (*warranty.Cover, error) {
	if m == nil {
		return nil, nil
	}
	r := &vehiclewire.Reader{}
	c := &warranty.Cover{
		On: r.Date("on_date", m.GetOnDate()), State: vehiclewire.Enum[warranty.State](m.GetState()), Parts: m.GetCoversParts(), Work: m.GetCoversLabour(),
		Reasons: reasons(m.GetReasons()), Sentence: m.GetSentence(), Question: m.GetQuestion(), Goodwill: m.GetGoodwill(), Sample: m.GetSample(),
	}
	if position := lastSegment(m.GetName()); position != WholeVehicle {
		c.Position = position
	}
	if m.GetDistance() != nil {
		c.Distance = warranty.True(r.Distance("distance", m.GetDistance()))
	}
	for i, of := range m.GetTerms() {
		one := warranty.TermCover{
			State: vehiclewire.Enum[warranty.State](of.GetState()), First: r.Date(vehiclewire.At("terms", i, "start_date"), of.GetStartDate()),
			Last: r.Date(vehiclewire.At("terms", i, "last_date"), of.GetLastDate()), Limited: of.GetUntilDistance() != nil,
			Until: r.Distance(vehiclewire.At("terms", i, "until_distance"), of.GetUntilDistance()), Added: int(of.GetDaysAdded()),
			EndedBy: vehiclewire.Enum[warranty.Limb](of.GetEndedBy()), OfRepair: of.GetOfRepair(), Reasons: reasons(of.GetReasons()), Question: of.GetQuestion(),
		}
		if t, ok := term(of.GetTerm()); ok {
			one.Term = t
		}
		c.Terms = append(c.Terms, one)
	}
	return c, r.Err()
}

// SpanProto writes what a time out of service says, without its name and who
// recorded it.
func SpanProto(s warranty.Span) *warrantyv1.OutOfServiceSpan {
	return &warrantyv1.OutOfServiceSpan{
		StartDate: vehiclewire.DateProto(s.Start), EndDate: vehiclewire.DateProto(s.End), Counts: s.Counts,
	}
}

// Span reads a time out of service.
func Span(m *warrantyv1.OutOfServiceSpan) (warranty.Span, error) {
	r := &vehiclewire.Reader{}
	s := warranty.Span{
		Start: r.Date("start_date", m.GetStartDate()), End: r.Date("end_date", m.GetEndDate()), Counts: m.GetCounts(), Record: m.GetName(),
	}
	return s, r.Err()
}

// DocumentProto writes the warranty of a vehicle on paper.
func DocumentProto(serial vehicle.Serial, d warranty.Document) *warrantyv1.WarrantyDocument {
	m := &warrantyv1.WarrantyDocument{
		Name: "vehicles/" + string(serial) + "/warrantyDocument", OnDate: vehiclewire.DateProto(d.On), Sample: d.Sample,
	}
	for _, s := range d.Sections {
		m.Sections = append(m.Sections, &warrantyv1.WarrantySection{Title: s.Title, Paragraphs: s.Paragraphs})
	}
	return m
}
