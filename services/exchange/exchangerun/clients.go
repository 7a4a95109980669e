// Package exchangerun carries out an import or an export: it reads files,
// asks the services what they have, and sends them what is new.
package exchangerun

import (
	"context"
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
)

// Clients are the services that keep what is exchanged.
type Clients struct {
	Builds    buildv1.BuildServiceClient
	Parts     partsv1.PartsServiceClient
	Schedules schedulev1.ScheduleServiceClient
	Owners    ownerv1.OwnerServiceClient
	Reminders reminderv1.ReminderServiceClient

	Bulletins  bulletinv1.BulletinServiceClient
	Warranties warrantyv1.WarrantyServiceClient
	Enquiries  enquiryv1.EnquiryServiceClient
	Handbooks  handbookv1.HandbookServiceClient
}

// Page sizes: small enough that a page of large records stays below what an
// answer may hold.
const (
	claimsPage  = 15 // of up to 160 KiB each; of bulletins, vehicles on lists and enquiries likewise
	termsPage   = 12 // of up to 64 KiB each
	recordsPage = 100
	linesPage   = 500
)

func (c Clients) releases(ctx context.Context, take func(*buildv1.Release) error) error {
	return page.Each(func(token string) ([]*buildv1.Release, string, error) {
		r, err := c.Builds.ListReleases(ctx, &buildv1.ListReleasesRequest{PageSize: recordsPage, PageToken: token})
		return r.GetReleases(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) builds(ctx context.Context, take func(*buildv1.Build) error) error {
	return page.Each(func(token string) ([]*buildv1.Build, string, error) {
		r, err := c.Builds.ListBuilds(ctx, &buildv1.ListBuildsRequest{PageSize: recordsPage, PageToken: token})
		return r.GetBuilds(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) changes(ctx context.Context, serial string, take func(*buildv1.Change) error) error {
	return page.Each(func(token string) ([]*buildv1.Change, string, error) {
		r, err := c.Builds.ListChanges(ctx, &buildv1.ListChangesRequest{Parent: "builds/" + serial, PageSize: linesPage, PageToken: token})
		return r.GetChanges(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) amendments(ctx context.Context, serial string, take func(*buildv1.Amendment) error) error {
	return page.Each(func(token string) ([]*buildv1.Amendment, string, error) {
		r, err := c.Builds.ListAmendments(ctx, &buildv1.ListAmendmentsRequest{Parent: "builds/" + serial, PageSize: recordsPage, PageToken: token})
		return r.GetAmendments(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) parts(ctx context.Context, take func(*partsv1.Part) error) error {
	return page.Each(func(token string) ([]*partsv1.Part, string, error) {
		r, err := c.Parts.ListParts(ctx, &partsv1.ListPartsRequest{PageSize: linesPage, PageToken: token})
		return r.GetParts(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) supersessions(ctx context.Context, take func(*partsv1.Supersession) error) error {
	return page.Each(func(token string) ([]*partsv1.Supersession, string, error) {
		r, err := c.Parts.ListSupersessions(ctx, &partsv1.ListSupersessionsRequest{PageSize: linesPage, PageToken: token})
		return r.GetSupersessions(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) positions(ctx context.Context, take func(*partsv1.Position) error) error {
	return page.Each(func(token string) ([]*partsv1.Position, string, error) {
		r, err := c.Parts.ListPositions(ctx, &partsv1.ListPositionsRequest{PageSize: linesPage, PageToken: token})
		return r.GetPositions(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) applications(ctx context.Context, take func(*partsv1.Application) error) error {
	return page.Each(func(token string) ([]*partsv1.Application, string, error) {
		r, err := c.Parts.ListApplications(ctx, &partsv1.ListApplicationsRequest{PageSize: linesPage, PageToken: token})
		return r.GetApplications(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) settings(ctx context.Context, take func(*partsv1.Setting) error) error {
	return page.Each(func(token string) ([]*partsv1.Setting, string, error) {
		r, err := c.Parts.ListSettings(ctx, &partsv1.ListSettingsRequest{PageSize: linesPage, PageToken: token})
		return r.GetSettings(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) capacities(ctx context.Context, take func(*partsv1.Capacity) error) error {
	return page.Each(func(token string) ([]*partsv1.Capacity, string, error) {
		r, err := c.Parts.ListCapacities(ctx, &partsv1.ListCapacitiesRequest{PageSize: linesPage, PageToken: token})
		return r.GetCapacities(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) programmes(ctx context.Context, take func(*schedulev1.Programme) error) error {
	return page.Each(func(token string) ([]*schedulev1.Programme, string, error) {
		r, err := c.Schedules.ListProgrammes(ctx, &schedulev1.ListProgrammesRequest{PageToken: token})
		return r.GetProgrammes(), r.GetNextPageToken(), err
	}, take)
}

// history gives all that is recorded of a vehicle's use.
func (c Clients) history(ctx context.Context, serial string, take func(proto.Message) error) error {
	parent := "vehicles/" + serial
	if err := page.Each(func(token string) ([]*schedulev1.Reading, string, error) {
		r, err := c.Schedules.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: parent, PageSize: linesPage, PageToken: token})
		return r.GetReadings(), r.GetNextPageToken(), err
	}, func(m *schedulev1.Reading) error { return take(m) }); err != nil {
		return err
	}
	if err := page.Each(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
		r, err := c.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: parent, PageSize: recordsPage, PageToken: token})
		return r.GetServiceEntries(), r.GetNextPageToken(), err
	}, func(m *schedulev1.ServiceEntry) error { return take(m) }); err != nil {
		return err
	}
	if err := page.Each(func(token string) ([]*schedulev1.Event, string, error) {
		r, err := c.Schedules.ListEvents(ctx, &schedulev1.ListEventsRequest{Parent: parent, PageSize: linesPage, PageToken: token})
		return r.GetEvents(), r.GetNextPageToken(), err
	}, func(m *schedulev1.Event) error { return take(m) }); err != nil {
		return err
	}
	return page.Each(func(token string) ([]*schedulev1.UseFact, string, error) {
		r, err := c.Schedules.ListUseFacts(ctx, &schedulev1.ListUseFactsRequest{Parent: parent, PageSize: linesPage, PageToken: token})
		return r.GetUseFacts(), r.GetNextPageToken(), err
	}, func(m *schedulev1.UseFact) error { return take(m) })
}

func (c Clients) people(ctx context.Context, take func(*ownerv1.Person) error) error {
	return page.Each(func(token string) ([]*ownerv1.Person, string, error) {
		r, err := c.Owners.ListPeople(ctx, &ownerv1.ListPeopleRequest{PageSize: recordsPage, PageToken: token})
		return r.GetPeople(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) ties(ctx context.Context, take func(*ownerv1.Tie) error) error {
	return page.Each(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := c.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/-", PageSize: linesPage, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) consents(ctx context.Context, person string, take func(*ownerv1.Consent) error) error {
	return page.Each(func(token string) ([]*ownerv1.Consent, string, error) {
		r, err := c.Owners.ListConsents(ctx, &ownerv1.ListConsentsRequest{Parent: "people/" + person, PageSize: recordsPage, PageToken: token})
		return r.GetConsents(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) erasures(ctx context.Context, take func(*ownerv1.Erasure) error) error {
	return page.Each(func(token string) ([]*ownerv1.Erasure, string, error) {
		r, err := c.Owners.ListErasures(ctx, &ownerv1.ListErasuresRequest{PageSize: linesPage, PageToken: token})
		return r.GetErasures(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) standings(ctx context.Context, take func(*ownerv1.Standing) error) error {
	return page.Each(func(token string) ([]*ownerv1.Standing, string, error) {
		r, err := c.Owners.ListStandings(ctx, &ownerv1.ListStandingsRequest{PageSize: linesPage, PageToken: token})
		return r.GetStandings(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) followUps(ctx context.Context, take func(*bulletinv1.FollowUp) error) error {
	return page.Each(func(token string) ([]*bulletinv1.FollowUp, string, error) {
		r, err := c.Bulletins.ListFollowUps(ctx, &bulletinv1.ListFollowUpsRequest{Parent: allVehicles, PageSize: claimsPage, PageToken: token})
		return r.GetFollowUps(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) bulletins(ctx context.Context, take func(*bulletinv1.Bulletin) error) error {
	return page.Each(func(token string) ([]*bulletinv1.Bulletin, string, error) {
		r, err := c.Bulletins.ListBulletins(ctx, &bulletinv1.ListBulletinsRequest{PageSize: claimsPage, PageToken: token})
		return r.GetBulletins(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) terms(ctx context.Context, take func(*warrantyv1.WarrantyTerm) error) error {
	return page.Each(func(token string) ([]*warrantyv1.WarrantyTerm, string, error) {
		r, err := c.Warranties.ListWarrantyTerms(ctx, &warrantyv1.ListWarrantyTermsRequest{PageSize: termsPage, PageToken: token})
		return r.GetWarrantyTerms(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) claims(ctx context.Context, take func(*warrantyv1.Claim) error) error {
	return page.Each(func(token string) ([]*warrantyv1.Claim, string, error) {
		r, err := c.Warranties.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: allVehicles, PageSize: claimsPage, PageToken: token})
		return r.GetClaims(), r.GetNextPageToken(), err
	}, take)
}

// daysOut gives the times in which a vehicle was out of service.
func (c Clients) daysOut(ctx context.Context, serial string, take func(proto.Message) error) error {
	return page.Each(func(token string) ([]*warrantyv1.OutOfServiceSpan, string, error) {
		r, err := c.Warranties.ListOutOfServiceSpans(ctx, &warrantyv1.ListOutOfServiceSpansRequest{Parent: "vehicles/" + serial, PageSize: linesPage, PageToken: token})
		return r.GetOutOfServiceSpans(), r.GetNextPageToken(), err
	}, func(m *warrantyv1.OutOfServiceSpan) error { return take(m) })
}

func (c Clients) enquiries(ctx context.Context, take func(*enquiryv1.Enquiry) error) error {
	return page.Each(func(token string) ([]*enquiryv1.Enquiry, string, error) {
		r, err := c.Enquiries.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{Parent: allVehicles, PageSize: claimsPage, PageToken: token})
		return r.GetEnquiries(), r.GetNextPageToken(), err
	}, take)
}

func (c Clients) notes(ctx context.Context, take func(*enquiryv1.AnswerNote) error) error {
	return page.Each(func(token string) ([]*enquiryv1.AnswerNote, string, error) {
		r, err := c.Enquiries.ListAnswerNotes(ctx, &enquiryv1.ListAnswerNotesRequest{PageSize: recordsPage, PageToken: token})
		return r.GetAnswerNotes(), r.GetNextPageToken(), err
	}, take)
}

// ignoreMissing forgives that a service knows nothing of a vehicle.
func ignoreMissing(err error) error {
	if err != nil && rpcerr.FromStatus(err).Kind == fault.NotFound {
		return nil
	}
	return err
}

// serialOf gives the vehicle in a resource name.
func serialOf(name string) string {
	_, rest, _ := strings.Cut(name, "/")
	serial, _, _ := strings.Cut(rest, "/")
	return serial
}
