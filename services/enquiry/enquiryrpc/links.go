package enquiryrpc

import (
	"context"
	"fmt"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// answerFaults says all that is wrong with an answer about a vehicle.
func (s *Service) answerFaults(ctx context.Context, serial vehicle.Serial, a enquiry.Answer) []fault.Field {
	faults := fieldsOf("answer", a.Check())
	for i, link := range a.Links {
		if want := s.wantOfLink(ctx, serial, link); want != "" && enquiry.ValidLink(link) {
			faults = append(faults, fault.Field{Name: fmt.Sprintf("answer.links[%d]", i), Got: link, Want: want})
		}
	}
	return faults
}

// wantOfLink says what a link would have to name, or nothing where it will do:
// records of the vehicle that was asked about, and notes and bulletins that are
// there. What only another service knows by its own identifiers, such as a
// service entry, is taken as it is said.
func (s *Service) wantOfLink(ctx context.Context, serial vehicle.Serial, link string) string {
	head, rest, _ := strings.Cut(link, "/")
	id, below, _ := strings.Cut(rest, "/")
	switch head {
	case "vehicles", "builds":
		if id != string(serial) {
			return fmt.Sprintf("a record of the vehicle that was asked about, %s/%s", head, serial)
		}
	case "answerNotes":
		if _, err := s.store.Note(id); err != nil || below != "" {
			return `a note that is there: "halfshaft note list" has them`
		}
	case "bulletins":
		if !s.mayBeBulletin(ctx, id, below) {
			return `a bulletin that is there, as in "bulletins/C-2026-02"`
		}
	case "organisations":
		if _, err := enquirywire.OrganisationID("", link); err != nil {
			return `an organisation, as in "organisations/ferncombe"`
		}
	}
	return ""
}

// mayBeBulletin reports whether a bulletin is there, or nobody can say.
func (s *Service) mayBeBulletin(ctx context.Context, id, below string) bool {
	version := strings.TrimPrefix(below, "versions/")
	switch {
	case below == "":
		version = "-"
	case version == below, version == "", strings.Contains(version, "/"):
		return false
	}
	_, err := s.Bulletins.GetBulletin(ctx, &bulletinv1.GetBulletinRequest{Name: "bulletins/" + id + "/versions/" + version})
	kind := fault.KindOf(asError(err))
	return err == nil || kind != fault.NotFound && kind != fault.Invalid
}
