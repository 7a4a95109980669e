package access

// The groups that the table is written in.
var (
	everybody = rolesOf(Nobody, Owner, Dealer, Support, Engineer, Administrator, Service)
	known     = rolesOf(AllRoles()...)

	staff    = rolesOf(Support, Engineer, Administrator)
	reads    = staff | rolesOf(Service)         // technical records, for reading
	desk     = rolesOf(Support, Administrator)  // people, their ties and their mail
	works    = rolesOf(Engineer, Administrator) // builds, releases, programmes, imports
	admins   = rolesOf(Administrator)
	services = rolesOf(Service)
	owners   = rolesOf(Owner)
	dealers  = rolesOf(Dealer)
)

// The forms of names that say which vehicle or person a request is about.
const (
	aBuild   = "builds/{serial}"
	aVehicle = "vehicles/{serial}"
	aPerson  = "people/{person}"

	anAccount      = "accounts/{account}"
	anOrganisation = "organisations/{organisation}"
	anAssignment   = aVehicle + "/assignments/{assignment}"
)

// Table is the one table of who may do what, by full gRPC method. A method
// that is not in it is refused to everybody.
func Table() map[string]Rule {
	table := map[string]Rule{}
	for service, methods := range map[string]map[string]Rule{
		"halfshaft.access.v1.AccessService":     accessMethods(),
		"halfshaft.access.v1.AuditService":      auditMethods(),
		"halfshaft.access.v1.SignInService":     signInMethods(),
		"halfshaft.build.v1.BuildService":       buildMethods(),
		"halfshaft.bulletin.v1.BulletinService": bulletinMethods(),
		"halfshaft.enquiry.v1.EnquiryService":   enquiryMethods(),
		"halfshaft.handbook.v1.HandbookService": handbookMethods(),
		"halfshaft.jobsheet.v1.JobSheetService": jobSheetMethods(),
		"halfshaft.owner.v1.OwnerService":       ownerMethods(),
		"halfshaft.parts.v1.PartsService":       partsMethods(),
		"halfshaft.reminder.v1.ReminderService": reminderMethods(),
		"halfshaft.schedule.v1.ScheduleService": scheduleMethods(),
		"halfshaft.warranty.v1.WarrantyService": warrantyMethods(),
		// Whoever can reach the port may ask whether it is well: supervisors
		// and load balancers hold no keys. To be told of each change is a stream
		// without an end, of which a stranger could hold any number.
		"grpc.health.v1.Health": {"Check": {Roles: everybody}, "List": {Roles: everybody}, "Watch": {Roles: reads}},
		// The list of methods is for those who work on the system.
		"grpc.reflection.v1.ServerReflection":      {"ServerReflectionInfo": {Roles: staff}},
		"grpc.reflection.v1alpha.ServerReflection": {"ServerReflectionInfo": {Roles: staff}},
	} {
		for method, rule := range methods {
			table["/"+service+"/"+method] = rule
		}
	}
	return table
}

// about makes the list of one name.
func about(field, form string) []Name { return []Name{{Field: field, Form: form}} }

func accessMethods() map[string]Rule {
	return map[string]Rule{
		"CreateKey": {Roles: admins},
		"ListKeys":  {Roles: admins},
		"RotateKey": {Roles: admins},
		"RevokeKey": {Roles: admins},
		"WhoAmI":    {Roles: known},
		"WatchKeys": {Roles: services},
		"WatchDoor": {Roles: services},

		"ListRetention": {Roles: admins, Personal: true},

		"NoteKeyUses": {Roles: services, Bookkeeping: true},

		"CreateOrganisation": {Roles: admins},
		"GetOrganisation":    {Roles: reads | dealers, Names: about("name", anOrganisation)},
		"ListOrganisations":  {Roles: reads},
		"UpdateOrganisation": {Roles: admins},
		"CreateAccount":      {Roles: admins},
		"GetAccount":         {Roles: admins | services, Personal: true},
		"ListAccounts":       {Roles: admins, Personal: true},
		"UpdateAccount":      {Roles: admins},

		// An owner lets a dealer see a vehicle, and takes that back; which
		// organisations there are is not theirs to list, but they may name one.
		"CreateAssignment": {Roles: staff | owners, Names: about("parent", aVehicle), Because: "assignment.purpose"},
		"GetAssignment":    {Roles: reads | owners | dealers, Names: about("name", anAssignment)},
		"ListAssignments":  {Roles: reads | owners | dealers, Names: []Name{{Field: "parent", Form: aVehicle, OwnOfAll: true}}},
		"EndAssignment":    {Roles: staff | owners | dealers, Names: about("name", anAssignment), Because: "reason"},
	}
}

// The audit is for administrators; the history of a vehicle is for all staff.
func auditMethods() map[string]Rule {
	return map[string]Rule{
		"ListAuditLines":     {Roles: admins},
		"ListHistory":        {Roles: staff},
		"GetAuditCheckpoint": {Roles: admins},
		"CheckAudit":         {Roles: admins},
	}
}

// Signing in is for the pages, which call for somebody they do not know yet or
// who shows a secret; administrators invite, and see and end sessions. The
// account is named for the audit and for its history. Who signs in and out is
// known when they are, so that the service itself writes these lines, and first
// steps change nothing: to the gate all that is bookkeeping.
func signInMethods() map[string]Rule {
	account := about("account", anAccount)
	return map[string]Rule{
		"InviteAccount":       {Roles: admins, Names: account},
		"CheckInvitation":     {Roles: services},
		"GetSignInOffer":      {Roles: services},
		"SignIn":              {Roles: services, Names: account, Bookkeeping: true},
		"BeginPasskeySignIn":  {Roles: services, Bookkeeping: true},
		"FinishPasskeySignIn": {Roles: services, Bookkeeping: true},
		"BeginOpenIdSignIn":   {Roles: services, Bookkeeping: true},
		"FinishOpenIdSignIn":  {Roles: services, Bookkeeping: true},
		"CheckSession":        {Roles: services},
		"SignOut":             {Roles: services, Names: account, Bookkeeping: true},
		"ListSessions":        {Roles: admins | services, Personal: true, Names: about("parent", anAccount)},
		"EndSession":          {Roles: admins | services, Names: account},
		"EndSessions":         {Roles: admins | services, Names: account},
		"GetSignInWays":       {Roles: admins | services, Names: account},
		"BeginPasskey":        {Roles: services, Names: account, Bookkeeping: true},
		"FinishPasskey":       {Roles: services, Names: account},
		"BeginPassword":       {Roles: services, Names: account, Bookkeeping: true},
		"FinishPassword":      {Roles: services, Names: account},
		"ChangePassword":      {Roles: services, Names: account},
		"CreateRecoveryCodes": {Roles: services, Names: account},
		"RemoveSignInWay":     {Roles: services, Names: account},
	}
}

func buildMethods() map[string]Rule {
	return map[string]Rule{
		"GetBuild":       {Roles: reads | owners | dealers, Names: about("name", aBuild)},
		"ListBuilds":     {Roles: reads},
		"CreateBuild":    {Roles: works, Names: about("build.name", aBuild)},
		"AmendBuild":     {Roles: works, Names: about("build.name", aBuild), Because: "reason"},
		"ListAmendments": {Roles: reads, Names: about("parent", aBuild)},
		"RecordChange":   {Roles: works, Names: about("parent", aBuild), Because: "change.reason"},
		// What came with the work of a visit the job sheet service records, which
		// bounds what that can be and names whoever sent it.
		"RecordChanges": {Roles: works | services, Names: about("parent", aBuild)},
		"MoveComponent": {Roles: works, Because: "reason", Names: []Name{
			{Field: "source", Form: aBuild}, {Field: "destination", Form: aBuild}}},
		"ListChanges":      {Roles: reads, Names: about("parent", aBuild)},
		"GetConfiguration": {Roles: reads | owners | dealers, Names: about("name", aBuild)},
		"GetDriveLine":     {Roles: reads | owners | dealers, Names: about("name", aBuild+"/driveLine")},
		"FindBuilds":       {Roles: reads},
		"GetRelease":       {Roles: reads},
		"ListReleases":     {Roles: reads},
		"CreateRelease":    {Roles: works},
		"StageImport":      {Roles: works},
		"CommitImport":     {Roles: works},
		"WatchBuilds":      {Roles: services},
	}
}

// What is asked and the page for the telephone are for the works' staff. Who
// asked and what they said the service shows to the desk alone. Notes are
// written by all staff and reviewed by who answers for the works.
func enquiryMethods() map[string]Rule {
	return map[string]Rule{
		"CreateEnquiry": {Roles: staff, Names: []Name{
			{Field: "parent", Form: aVehicle}, {Field: "enquiry.person", Form: aPerson}}},
		"UpdateEnquiry":    {Roles: staff, Names: about("enquiry.name", aVehicle+"/enquiries/{enquiry}")},
		"RecordAnswer":     {Roles: staff, Names: about("name", aVehicle+"/enquiries/{enquiry}")},
		"GetEnquiry":       {Roles: staff, Personal: true, Names: about("name", aVehicle+"/enquiries/{enquiry}")},
		"ListEnquiries":    {Roles: staff, Personal: true, Names: about("parent", aVehicle)},
		"SearchEnquiries":  {Roles: staff, Personal: true},
		"SuggestAnswers":   {Roles: staff, Personal: true, Names: about("parent", aVehicle)},
		"CreateAnswerNote": {Roles: staff},
		"UpdateAnswerNote": {Roles: staff},
		"ReviewAnswerNote": {Roles: works},
		"GetAnswerNote":    {Roles: staff},
		"ListAnswerNotes":  {Roles: staff},
		"StageImport":      {Roles: works},
		"CommitImport":     {Roles: works},
		"GetDossier":       {Roles: staff, Personal: true, Names: about("name", aVehicle+"/dossier")},
		// Who near them can do it, owners and dealers ask too: they are told
		// what workshops publish, and nothing of people.
		"SearchWorkshops": {Roles: staff | owners | dealers, Names: about("parent", aVehicle)},
	}
}

// Engineers import people, as they import everything, and do not read them
// back: where people live is for the desk.
func ownerMethods() map[string]Rule {
	return map[string]Rule{
		"GetPerson":         {Roles: desk | services | owners, Personal: true, Names: about("name", aPerson)},
		"ListPeople":        {Roles: desk, Personal: true},
		"CreatePerson":      {Roles: desk, Names: about("person.name", aPerson)},
		"UpdatePerson":      {Roles: desk | owners, Names: about("person.name", aPerson)},
		"ListTies":          {Roles: reads | owners, Personal: true, Names: []Name{{Field: "parent", Form: aVehicle, OwnOfAll: true}}},
		"CreateTie":         {Roles: desk, Names: []Name{{Field: "parent", Form: aVehicle}, {Field: "tie.person", Form: aPerson}}},
		"UpdateTie":         {Roles: desk, Names: about("tie.name", aVehicle+"/ties/{tie}")},
		"EndTie":            {Roles: desk, Names: about("tie.name", aVehicle+"/ties/{tie}")},
		"FindPeople":        {Roles: desk | services, Personal: true},
		"RecordConsent":     {Roles: desk | services | owners, Names: about("parent", aPerson)},
		"ListConsents":      {Roles: desk | owners, Personal: true, Names: about("parent", aPerson)},
		"MarkUndeliverable": {Roles: desk | services, Names: about("name", aPerson)},
		"OfferTransfer": {Roles: desk | owners, Names: []Name{
			{Field: "parent", Form: aVehicle}, {Field: "offered_by", Form: aPerson}}},
		"AcceptTransfer": {Roles: desk | services, Names: about("parent", aVehicle)},
		"CancelTransfer": {Roles: desk | owners, Names: about("name", aVehicle+"/transfers/{transfer}")},
		"RecordTransfer": {Roles: desk, Names: about("parent", aVehicle)},
		"ListTransfers":  {Roles: staff, Personal: true, Names: about("parent", aVehicle)},
		"GetStanding":    {Roles: reads | owners, Names: about("name", aVehicle+"/standing")},
		"UpdateStanding": {Roles: desk, Names: about("standing.name", aVehicle+"/standing")},
		"ListStandings":  {Roles: reads},
		"ErasePerson":    {Roles: admins, Names: about("name", aPerson)},
		"ListErasures":   {Roles: desk},
		"ListRetention":  {Roles: admins, Personal: true},
		"StoreDocument": {Roles: desk | owners, Names: []Name{
			{Field: "parent", Form: aPerson}, {Field: "document.vehicle", Form: aVehicle}}},
		"GetDocument":         {Roles: desk | owners, Personal: true, Names: about("name", aPerson+"/documents/{document}")},
		"ListDocuments":       {Roles: desk | owners, Personal: true, Names: about("parent", aPerson)},
		"SealForPerson":       {Roles: services, Names: about("person", aPerson)},
		"OpenForPerson":       {Roles: services, Names: about("person", aPerson)},
		"StageImport":         {Roles: works},
		"CommitImport":        {Roles: works},
		"WatchTies":           {Roles: services},
		"ListContactChanges":  {Roles: services},
		"DeleteContactChange": {Roles: services, Names: about("name", aPerson+"/contactChanges/{contact_change}")},
	}
}

func partsMethods() map[string]Rule {
	return map[string]Rule{
		"GetPart":           {Roles: reads},
		"ListParts":         {Roles: reads},
		"ListSupersessions": {Roles: reads},
		"ListPositions":     {Roles: reads},
		"ListApplications":  {Roles: reads},
		"ListSettings":      {Roles: reads},
		"ListCapacities":    {Roles: reads},
		"SearchParts":       {Roles: reads, Names: about("build", aBuild)},
		"AnswerPart":        {Roles: reads | owners | dealers, Names: about("build", aBuild)},
		"GetTechnicalSheet": {Roles: reads | owners | dealers, Names: about("build", aBuild)},
		"SelectShims":       {Roles: reads | dealers, Names: about("build", aBuild)},
		"ListUses":          {Roles: staff},
		"CheckCatalogue":    {Roles: works},
		"StageImport":       {Roles: works},
		"CommitImport":      {Roles: works},
	}
}

// A notice's message holds a name and an address, so reading one is for the
// desk; that there was one is for all staff.
func reminderMethods() map[string]Rule {
	return map[string]Rule{
		"ListNotices":  {Roles: reads, Names: about("parent", aVehicle)},
		"GetNotice":    {Roles: desk, Personal: true},
		"RetryNotice":  {Roles: desk},
		"RunPass":      {Roles: desk},
		"ListTasks":    {Roles: reads},
		"CompleteTask": {Roles: staff},
		"CreateOptOut": {Roles: desk | services, Names: []Name{
			{Field: "opt_out.vehicle", Form: aVehicle}, {Field: "opt_out.person", Form: aPerson}}},
		"EndOptOut":   {Roles: desk | services},
		"ListOptOuts": {Roles: reads, Names: about("parent", aVehicle)},
		"CreateAnswer": {Roles: staff | owners, Names: []Name{
			{Field: "parent", Form: aVehicle}, {Field: "answer.person", Form: aPerson}}},
		"WithdrawAnswer": {Roles: staff | owners, Names: about("name", aVehicle+"/answers/{answer}")},
		"ListAnswers":    {Roles: reads | owners, Names: about("parent", aVehicle)},
		"GetCadence":     {Roles: reads},
		"ListCadences":   {Roles: reads},
		"UpdateCadence":  {Roles: works},
		"PreviewNotice":  {Roles: desk, Personal: true, Names: about("parent", aVehicle)},
		"ListPending":    {Roles: reads, Names: about("parent", aVehicle)},
		"ListPassDays":   {Roles: reads},
		"SendHandbook": {Roles: desk, Because: "text", Names: []Name{
			{Field: "parent", Form: aVehicle}, {Field: "person", Form: aPerson}}},
		"PrintLetters": {Roles: desk, Personal: true},
		"MarkPosted":   {Roles: desk},
		"CreateCalendarFeed": {Roles: desk | owners, Names: []Name{
			{Field: "parent", Form: aVehicle}, {Field: "person", Form: aPerson}}},
		"EndCalendarFeed":   {Roles: desk | owners, Names: about("name", aVehicle+"/calendarFeeds/{calendar_feed}")},
		"ListCalendarFeeds": {Roles: desk, Names: about("parent", aVehicle)},
		"ReadCalendar":      {Roles: services},
		"CheckLink":         {Roles: services},
		"WithdrawLinks":     {Roles: desk | owners, Names: about("person", aPerson)},
		"SendConfirmation": {Roles: desk | owners, Names: []Name{
			{Field: "parent", Form: aVehicle}, {Field: "person", Form: aPerson}}},
		"TakeReturn":    {Roles: desk | services},
		"TakeTextEvent": {Roles: services},
		"ListRetention": {Roles: admins, Personal: true},
	}
}

// An owner or a dealer may say that work was done and take that back; what the
// works recorded only the works strikes out, which the service itself sees to.
func scheduleMethods() map[string]Rule {
	return map[string]Rule{
		"GetSchedule":            {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/schedule")},
		"GetVisitPlan":           {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/visitPlan")},
		"ListDue":                {Roles: reads},
		"ListComponentDistances": {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"ListMeasuredSeries":     {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"JudgeMeasurement":       {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"RecordReading":          {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"ListReadings":           {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"SettleReading":          {Roles: staff, Names: about("name", aVehicle+"/readings/{reading}"), Because: "settlement.reason"},
		"RecordService":          {Roles: staff | owners | dealers | services, Names: about("parent", aVehicle)},
		"ListServiceEntries":     {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"ListPartsUsed":          {Roles: reads},
		"VoidServiceEntry":       {Roles: staff | owners | dealers | services, Names: about("name", aVehicle+"/serviceEntries/{service_entry}")},
		"RecordEvent":            {Roles: staff | owners | dealers, Names: about("parent", aVehicle)},
		"ListEvents":             {Roles: reads | dealers, Names: about("parent", aVehicle)},
		"DeclareUse":             {Roles: staff | owners, Names: about("parent", aVehicle)},
		"EndUse":                 {Roles: staff | owners, Names: about("use_fact.name", aVehicle+"/useFacts/{use_fact}")},
		"ListUseFacts":           {Roles: reads | dealers, Names: about("parent", aVehicle)},
		"GetProgramme":           {Roles: reads},
		"ListProgrammes":         {Roles: reads},
		"CreateProgramme":        {Roles: works},
		"StageImport":            {Roles: works},
		"CommitImport":           {Roles: works},
	}
}

// Cover is for whoever has the vehicle or works on it. Claims are made by the
// works and by dealers, who see their own; which of them those are the service
// itself knows. Money is promised by who answers for the works.
func warrantyMethods() map[string]Rule {
	claim := about("name", aVehicle+"/claims/{claim}")
	return map[string]Rule{
		"CreateWarrantyTerm":     {Roles: works},
		"GetWarrantyTerm":        {Roles: reads},
		"ListWarrantyTerms":      {Roles: reads},
		"GetCover":               {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/covers/{position}")},
		"ListCovers":             {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"GetWarrantyDocument":    {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/warrantyDocument")},
		"CreateOutOfServiceSpan": {Roles: staff, Names: about("parent", aVehicle), Because: "out_of_service_span.reason"},
		"UpdateOutOfServiceSpan": {Roles: staff, Names: about("out_of_service_span.name", aVehicle+"/outOfServiceSpans/{out_of_service_span}"),
			Because: "out_of_service_span.reason"},
		"ListOutOfServiceSpans": {Roles: reads, Names: about("parent", aVehicle)},
		"CreateClaim":           {Roles: staff | dealers, Names: about("parent", aVehicle)},
		"UpdateClaim":           {Roles: staff | dealers, Names: about("claim.name", aVehicle+"/claims/{claim}")},
		"GetClaim":              {Roles: reads | dealers, Names: claim},
		"ListClaims":            {Roles: reads | dealers, Names: about("parent", aVehicle)},
		"SubmitClaim":           {Roles: staff | dealers, Names: claim, Because: "text"},
		"AskClaimant":           {Roles: staff, Names: claim, Because: "text"},
		"AuthoriseClaim":        {Roles: works, Names: claim, Because: "text"},
		"DecideClaim":           {Roles: works, Names: claim, Because: "decision.reason"},
		"AppealClaim":           {Roles: staff | dealers, Names: claim, Because: "text"},
		"RecordRecovery":        {Roles: staff, Names: claim, Because: "recovery.text"},
		"CloseClaim":            {Roles: staff, Names: claim, Because: "text"},
		"WithdrawClaim":         {Roles: staff | dealers, Names: claim, Because: "text"},
		"ListClaimSums":         {Roles: reads},
		"StageImport":           {Roles: works},
		"CommitImport":          {Roles: works},
	}
}

// What a bulletin says is the works' to decide; what was done about it is
// recorded by whoever did it, and a dealer records work on vehicles that are
// assigned to them; that a letter went out, by the service that sent it. An owner
// is told what holds for their own.
func bulletinMethods() map[string]Rule {
	return map[string]Rule{
		"CreateBulletin":       {Roles: works},
		"UpdateBulletin":       {Roles: works},
		"GetBulletin":          {Roles: reads},
		"ListBulletins":        {Roles: reads},
		"PreviewSet":           {Roles: reads},
		"IssueBulletin":        {Roles: works},
		"WithdrawBulletin":     {Roles: works, Because: "reason"},
		"StageImport":          {Roles: works},
		"CommitImport":         {Roles: works},
		"ListVehicleBulletins": {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"GetFollowUp":          {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/followUps/{follow_up}")},
		"ListFollowUps":        {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"RecordFollowUpStep":   {Roles: staff | dealers | services, Names: about("name", aVehicle+"/followUps/{follow_up}")},
		"RefreshSets":          {Roles: works},
		"GetCampaignReport":    {Roles: reads},
	}
}

// A book is the works' own. A handbook is for whoever has the vehicle or works on
// it; the works issues it.
func handbookMethods() map[string]Rule {
	return map[string]Rule{
		"CreateBook":         {Roles: works},
		"GetBook":            {Roles: reads},
		"ListBooks":          {Roles: reads},
		"GetHandbookPreview": {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/handbook")},
		"IssueHandbook":      {Roles: staff, Names: about("parent", aVehicle), Because: "text"},
		"GetHandbookIssue":   {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/handbookIssues/{issue}")},
		"ListHandbookIssues": {Roles: reads | owners | dealers, Names: about("parent", aVehicle)},
		"DownloadHandbook":   {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/handbookIssues/{issue}")},
		"KeepHandbookFile":   {Roles: works},
		"StageImport":        {Roles: works},
		"CommitImport":       {Roles: works},
	}
}

// A sheet is for whoever works on the vehicle: the works, and the dealer who has
// it in hand. Owners get a handbook.
func jobSheetMethods() map[string]Rule {
	one := about("name", aVehicle+"/jobSheets/{job_sheet}")
	return map[string]Rule{
		"CreateJobSheet":   {Roles: staff | dealers, Names: about("parent", aVehicle)},
		"GetJobSheet":      {Roles: staff | dealers, Names: one},
		"ListJobSheets":    {Roles: staff | dealers, Names: about("parent", aVehicle)},
		"CancelJobSheet":   {Roles: staff | dealers, Names: one},
		"DownloadJobSheet": {Roles: staff | dealers, Names: one},
		"CheckJobReturn":   {Roles: staff | dealers, Names: one},
		"ReturnJobSheet":   {Roles: staff | dealers, Names: one},
		"VoidJobReturn":    {Roles: staff, Names: one},
	}
}
