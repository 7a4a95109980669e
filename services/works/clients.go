package works

import (
	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
)

// Clients are the services as callers see them.
type Clients struct {
	Access     accessv1.AccessServiceClient
	Audit      accessv1.AuditServiceClient
	SignIn     accessv1.SignInServiceClient
	Owners     ownerv1.OwnerServiceClient
	Builds     buildv1.BuildServiceClient
	Parts      partsv1.PartsServiceClient
	Schedules  schedulev1.ScheduleServiceClient
	Reminders  reminderv1.ReminderServiceClient
	Warranties warrantyv1.WarrantyServiceClient
	Bulletins  bulletinv1.BulletinServiceClient
	Enquiries  enquiryv1.EnquiryServiceClient
	Handbooks  handbookv1.HandbookServiceClient
	JobSheets  jobsheetv1.JobSheetServiceClient
}

// newClients makes the clients over the connection that each service is
// reached by.
func newClients(to func(service string) grpc.ClientConnInterface) Clients {
	return Clients{
		Access:     accessv1.NewAccessServiceClient(to(Access)),
		Audit:      accessv1.NewAuditServiceClient(to(Access)),
		SignIn:     accessv1.NewSignInServiceClient(to(Access)),
		Owners:     ownerv1.NewOwnerServiceClient(to(Owner)),
		Builds:     buildv1.NewBuildServiceClient(to(Build)),
		Parts:      partsv1.NewPartsServiceClient(to(Parts)),
		Schedules:  schedulev1.NewScheduleServiceClient(to(Schedule)),
		Reminders:  reminderv1.NewReminderServiceClient(to(Reminder)),
		Warranties: warrantyv1.NewWarrantyServiceClient(to(Warranty)),
		Bulletins:  bulletinv1.NewBulletinServiceClient(to(Bulletin)),
		Enquiries:  enquiryv1.NewEnquiryServiceClient(to(Enquiry)),
		Handbooks:  handbookv1.NewHandbookServiceClient(to(Handbook)),
		JobSheets:  jobsheetv1.NewJobSheetServiceClient(to(JobSheet)),
	}
}
