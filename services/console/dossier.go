package console

import (
	"context"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// Dossier prints the page for the telephone, as of a day (today, when on is
// zero): what must be said first stands first, and what to ask the caller last,
// where the eye ends.
func (c *Console) Dossier(ctx context.Context, serial string, on vehicle.Date) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	d, err := c.Enquiries.GetDossier(ctx, &enquiryv1.GetDossierRequest{
		Name: "vehicles/" + serialOf(name) + "/dossier", OnDate: vehiclewire.DateProto(on),
	})
	if err != nil {
		return err
	}
	return c.print(d, func(s *sheet) { dossierText(s, d) })
}

func dossierText(s *sheet, d *enquiryv1.Dossier) {
	id := d.GetIdentity()
	s.line("%s on %s", id.GetSerial(), day(d.GetOnDate()))
	for _, w := range d.GetWarnings() {
		s.text("  !! ", w)
	}
	s.text("  ", id.GetSentence())
	rows := [][]string{
		{"frame number", id.GetFrameNumber()},
		{"options", strings.Join(id.GetOptions(), ", ")},
		{"tyres", strings.TrimSpace(id.GetTyre().GetSize() + " " + id.GetTyre().GetPattern())},
		{"axle ratio", ratio(id.GetAxleRatio())},
	}
	for _, row := range rows {
		if row[1] != "" {
			s.line("  %-13s %s", row[0], row[1])
		}
	}
	dossierPeople(s, d)
	dossierCover(s, d)
	dossierBulletins(s, d.GetBulletins())
	dossierDue(s, d)
	dossierMeasured(s, d)
	dossierVisits(s, d)
	dossierWorkshops(s, d)
	dossierEnquiries(s, d)
	if len(d.GetQuestions()) > 0 {
		s.heading("Ask the caller")
		for _, q := range d.GetQuestions() {
			s.text("  ? ", q.GetText())
			s.text("    ", q.GetReason().GetSentence())
		}
	}
	for i, gap := range d.GetGaps() {
		if i == 0 {
			s.heading("Not on this page")
		}
		s.text("  ", gap)
	}
}

func dossierPeople(s *sheet, d *enquiryv1.Dossier) {
	if len(d.GetContacts()) == 0 {
		return
	}
	s.heading("Who is tied to it")
	for _, contactOf := range d.GetContacts() {
		s.line("  %s", tieWords(contactOf.GetTie(), idOf(contactOf.GetTie().GetPerson())))
		if p := contactOf.GetPerson(); p != nil {
			contact(s, p)
		}
	}
}

func dossierCover(s *sheet, d *enquiryv1.Dossier) {
	if len(d.GetCovers()) == 0 && len(d.GetOpenClaims()) == 0 {
		return
	}
	s.heading("Warranty")
	for _, cover := range d.GetCovers() {
		s.text("  "+place(idOf(cover.GetName()))+": ", cover.GetSentence())
		if cover.GetQuestion() != "" {
			s.text("    ask: ", cover.GetQuestion())
		}
	}
	for _, claim := range d.GetOpenClaims() {
		s.text("  claim "+idOf(claim.GetName())+", "+word(claim.GetState(), "CLAIM_STATE_")+": ", place(claim.GetPosition())+", "+claim.GetSymptom())
	}
}

func dossierBulletins(s *sheet, bulletins []*bulletinv1.VehicleBulletin) {
	if len(bulletins) == 0 {
		return
	}
	s.heading("Bulletins and campaigns")
	for _, v := range bulletins {
		text := v.GetBulletin().GetTitle()
		if f := v.GetFollowUp(); f != nil {
			text += " (" + word(f.GetState(), "FOLLOW_UP_STATE_") + "). " + f.GetSentence()
		}
		s.text("  "+idOf(v.GetName())+"  ", text)
	}
}

// mostDue is how many items of the later ones the page names.
const mostDue = 8

// dossierDue says what falls due; of a vehicle that is no more, nothing does.
func dossierDue(s *sheet, d *enquiryv1.Dossier) {
	x := d.GetSchedule()
	if x == nil || d.GetStanding().GetState() == ownerv1.StandingState_STANDING_STATE_SCRAPPED {
		return
	}
	s.heading("What is due")
	if p := x.GetPace(); p.GetCountedReadings() > 0 {
		s.line("  %s on %s; about %s today", distance(p.GetLifeDistance(), p.GetUnit()), day(p.GetReadingDate()), distance(p.GetEstimatedDistance(), p.GetUnit()))
	}
	if l := x.GetLayUp(); l != nil {
		s.line("  laid up from %s", day(l.GetStartDate()))
	}
	later := 0
	for _, i := range x.GetItems() {
		if i.GetState() == schedulev1.DueState_DUE_STATE_NOT_YET {
			if later++; later > mostDue {
				continue
			}
		}
		s.text("  "+i.GetItemId()+"  ", i.GetSentence())
	}
	if later > mostDue {
		s.line("  and %s later: halfshaft schedule %s", plural(later-mostDue, "item", "items"), serialOf(x.GetName()))
	}
	if x.GetSample() {
		s.line("  values     sample, to be signed by the works' engineer")
	}
}

func dossierMeasured(s *sheet, d *enquiryv1.Dossier) {
	if len(d.GetNearLimits()) == 0 {
		return
	}
	s.heading("Measured, beyond a limit or near it")
	var rows [][]string
	for _, m := range d.GetNearLimits() {
		last := m.GetValues()[len(m.GetValues())-1]
		rows = append(rows, []string{
			quantityName(m.GetPosition(), m.GetCharacteristic()), valueText(last), day(last.GetMeasuredDate()),
			windowText(m.GetLimit()), verdictText(lastAgainst(m, last)), meets(m.GetTrend()),
		})
	}
	s.table("  ", rows)
}

// meets says when a trend meets its limit; "" where nothing foretells it.
func meets(t *schedulev1.MeasuredTrend) string {
	if when := whenShort(t); when != "" {
		return "meets it " + when
	}
	return ""
}

// mostItems is how many items of a visit the page names.
const mostItems = 10

func dossierVisits(s *sheet, d *enquiryv1.Dossier) {
	if len(d.GetVisits()) > 0 {
		s.heading("The last visits")
	}
	for _, v := range d.GetVisits() {
		items := make([]string, len(v.GetItems()))
		for i, done := range v.GetItems() {
			items[i] = done.GetItemId()
		}
		text := wording.List(items, "and")
		if n := len(items) - mostItems; n > 1 {
			text = strings.Join(items[:mostItems], ", ") + " and " + plural(n, "more item", "more items")
		}
		if v.GetDoneBy() != "" {
			text += ", by " + v.GetDoneBy()
		}
		if v.GetNote() != "" {
			text += ": " + v.GetNote()
		}
		s.text("  "+day(v.GetServiceDate())+"  ", text)
	}
	if len(d.GetDoubtfulReadings()) > 0 {
		s.heading("Readings that wait for a decision")
	}
	for _, r := range d.GetDoubtfulReadings() {
		text := entered(r.GetValue())
		if e := r.GetExplanations(); len(e) > 0 {
			text += ": " + e[0].GetSentence()
		}
		s.text("  "+day(r.GetReadingDate())+"  ", text)
	}
}

func dossierEnquiries(s *sheet, d *enquiryv1.Dossier) {
	if len(d.GetEnquiries()) > 0 {
		s.heading("What was asked before")
	}
	for _, e := range d.GetEnquiries() {
		enquiryText(s, e)
	}
	if len(d.GetAnswerNotes()) > 0 {
		s.heading("Reviewed answers: halfshaft note show NAME, or halfshaft enquiry suggest %s WORDS", d.GetIdentity().GetSerial())
		var rows [][]string
		for _, n := range d.GetAnswerNotes() {
			rows = append(rows, []string{idOf(n.GetName()), n.GetTitle()})
		}
		s.table("  ", rows)
	}
}

// dossierWorkshops says who can do the work, and what nobody knows of it.
func dossierWorkshops(s *sheet, d *enquiryv1.Dossier) {
	if len(d.GetWorkshops())+len(d.GetWorkshopNotes()) == 0 {
		return
	}
	s.heading("Who can do the work: halfshaft workshops %s --near PLACE", d.GetIdentity().GetSerial())
	for _, w := range d.GetWorkshops() {
		workshopText(s, w)
	}
	for _, note := range d.GetWorkshopNotes() {
		s.text("  ", note)
	}
}
