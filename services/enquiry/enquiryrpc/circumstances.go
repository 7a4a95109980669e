package enquiryrpc

import (
	"fmt"
	"slices"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// identity says which vehicle it is, as far as that was read.
func (g *gathered) identity(serial vehicle.Serial) *enquiryv1.DossierIdentity {
	b, c := g.build, g.configuration
	id := &enquiryv1.DossierIdentity{
		Serial: string(serial), FrameNumber: b.GetFrameNumber(), Release: g.release(), BuiltRelease: strings.TrimPrefix(b.GetRelease(), "releases/"),
		Options: b.GetOptions(), Wheelbase: b.GetWheelbase(), Market: b.GetMarket(), DonorYear: b.GetDonorYear(),
		DeliveryDate: b.GetDeliveryDate(), Tyre: b.GetTyre(), AxleRatio: b.GetAxleRatio(),
	}
	if c != nil {
		id.Options, id.Wheelbase, id.Market, id.Tyre, id.AxleRatio = c.GetOptions(), c.GetWheelbase(), c.GetMarket(), c.GetTyre(), c.GetAxleRatio()
	}
	id.Sentence = g.identitySentence(id)
	return id
}

func (g *gathered) identitySentence(id *enquiryv1.DossierIdentity) string {
	var parts []string
	if id.GetWheelbase() != "" {
		parts = append(parts, strings.TrimSuffix(id.GetWheelbase(), " wheelbase")+" wheelbase")
	}
	if id.GetRelease() != "" {
		release := "release " + id.GetRelease()
		if id.GetBuiltRelease() != "" && id.GetBuiltRelease() != id.GetRelease() {
			release += " today, built as " + id.GetBuiltRelease()
		}
		parts = append(parts, release)
	}
	if id.GetDonorYear() != 0 {
		parts = append(parts, fmt.Sprintf("on a frame of %d", id.GetDonorYear()))
	}
	if d := dayOf(id.GetDeliveryDate()); !d.IsZero() {
		parts = append(parts, "delivered on "+d.Long())
	}
	if len(parts) == 0 {
		return "Nothing is known of what it is."
	}
	text := strings.Join(parts, ", ") + "."
	return wording.UpperFirst(text)
}

// standings are the states of a vehicle as warnings have them.
var standings = map[ownerv1.StandingState]enquiry.Standing{
	ownerv1.StandingState_STANDING_STATE_OWNER_UNKNOWN: enquiry.OwnerUnknown,
	ownerv1.StandingState_STANDING_STATE_EXPORTED:      enquiry.Exported,
	ownerv1.StandingState_STANDING_STATE_SCRAPPED:      enquiry.Scrapped,
}

// circumstances are what warnings and questions rest on.
func (g *gathered) circumstances(serial vehicle.Serial, on vehicle.Date, kept []enquirystore.Kept) enquiry.Circumstances {
	c := enquiry.Circumstances{
		Serial: serial, Today: on, Standing: standings[g.standing.GetState()], StandingSince: dayOf(g.standing.GetSinceDate()),
		Tied: len(g.contacts) > 0, KnowsTies: g.knowsTies, KnowsReads: g.knowsReadings, KnowsUse: !g.knowsUses || len(g.uses) > 0,
	}
	if len(g.plateOf) > 0 {
		c.DoubtIdentity = fmt.Sprintf("%s has the same plate on record. Ask for the serial on the plate in the engine bay, and for the frame number.", wording.List(g.plateOf, "and"))
	}
	g.addCampaigns(&c)
	g.addPeople(&c)
	g.addReadings(&c)
	for _, cover := range g.covers {
		if cover.GetState() == warrantyv1.CoverState_COVER_STATE_UNKNOWN && cover.GetQuestion() != "" {
			c.CoverAsk, c.CoverName = cover.GetQuestion(), cover.GetName()
			break
		}
	}
	for _, k := range kept {
		if !k.Closed && !k.FollowUp.IsZero() {
			c.FollowUps = append(c.FollowUps, enquiry.FollowUp{Name: enquirywire.EnquiryName(k.Serial, k.ID), Day: k.FollowUp, Symptom: k.Symptom})
		}
	}
	slices.SortStableFunc(c.FollowUps, func(a, b enquiry.FollowUp) int { return a.Day.Compare(b.Day) })
	return c
}

// settled are the states of a campaign in which nothing is left to be done, or
// nothing can be.
var settled = []bulletinv1.FollowUpState{
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE, bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOT_NEEDED,
}

func (g *gathered) addCampaigns(c *enquiry.Circumstances) {
	for _, v := range g.bulletins {
		b, f := v.GetBulletin(), v.GetFollowUp()
		entry := enquiry.Campaign{
			Name: v.GetName(), ID: v.GetName()[strings.LastIndexByte(v.GetName(), '/')+1:], Title: strings.TrimSuffix(b.GetTitle(), "."),
			Advice: b.GetKind() != bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN, StopUse: b.GetStopUse(), Hold: b.GetHoldDelivery(), Meanw: b.GetMeanwhile(),
		}
		if f != nil {
			entry.Name = f.GetName()
			entry.Open = !slices.Contains(settled, f.GetState())
			entry.Booked = f.GetState() == bulletinv1.FollowUpState_FOLLOW_UP_STATE_BOOKED
			entry.StopUse, entry.Hold = f.GetStopUse() && entry.Open, f.GetHoldDelivery() && entry.Open
		}
		c.Campaigns = append(c.Campaigns, entry)
	}
}

func (g *gathered) addPeople(c *enquiry.Circumstances) {
	for _, contact := range g.contacts {
		if contact.GetTie().GetRole() == ownerv1.Role_ROLE_EXECUTOR {
			c.Executor = dayOf(contact.GetTie().GetStartDate())
		}
		if contact.GetPerson() == nil {
			continue
		}
		c.People = append(c.People, enquiry.Person{
			Name: contact.GetTie().GetName(), Role: roleWord(contact.GetTie().GetRole()),
			Deceased: dayOf(contact.GetPerson().GetDeceasedDate()), Ways: reachable(contact.GetPerson()),
		})
	}
}

// roleWord says what somebody is to a vehicle.
func roleWord(r ownerv1.Role) string {
	return strings.ToLower(strings.TrimPrefix(r.String(), "ROLE_"))
}

func (g *gathered) addReadings(c *enquiry.Circumstances) {
	for _, r := range g.readings {
		switch day := dayOf(r.GetReadingDate()); r.GetState() {
		case schedulev1.ReadingState_READING_STATE_COUNTED:
			if day.After(c.LastReading) && !day.After(c.Today) {
				c.LastReading = day
			}
		case schedulev1.ReadingState_READING_STATE_DOUBTFUL:
			shown, err := vehiclewire.Entered(r.GetValue())
			if err != nil {
				continue // no service writes such a one
			}
			d := enquiry.Doubtful{Name: r.GetName(), Date: day, Value: shown}
			for _, e := range r.GetExplanations() {
				d.Says = append(d.Says, e.GetSentence())
			}
			c.Doubtful = append(c.Doubtful, d)
		}
	}
	// The schedule rests on readings that came with services too.
	if last := dayOf(g.schedule.GetPace().GetReadingDate()); last.After(c.LastReading) {
		c.LastReading = last
	}
	ask := g.schedule.GetReadingRequest()
	if day := dayOf(ask.GetAskDate()); ask.GetReason() != nil && !day.IsZero() && !day.After(c.Today) {
		why := reason(ask.GetReason())
		c.ReadingAsk = &why
	}
}

// reason reads a reason that another service gave.
func reason(p *vehiclev1.Reason) vehicle.Reason {
	r := vehicle.Reason{Rule: p.GetRule(), Record: p.GetRecord(), Sentence: p.GetSentence()}
	for _, f := range p.GetFacts() {
		r.Facts = append(r.Facts, vehicle.Fact{Name: f.GetName(), Value: f.GetValue()})
	}
	return r
}
