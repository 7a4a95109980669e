package audit

// sentences say in the past what each method that changes something did, by
// service and method. "by somebody on a day" follows.
func sentences() map[string]string {
	all := map[string]string{}
	for service, methods := range map[string]map[string]string{
		"access.v1.AccessService": {
			"CreateKey": "Key made", "RotateKey": "Key made in place of another", "RevokeKey": "Key revoked",
			"NoteKeyUses":        "Last uses of keys noted",
			"CreateOrganisation": "Organisation entered", "UpdateOrganisation": "Organisation changed",
			"CreateAccount": "Account entered", "UpdateAccount": "Account changed",
			"CreateAssignment": "Vehicle assigned to a dealer", "EndAssignment": "Assignment to a dealer ended",
		},
		"access.v1.SignInService": {
			"InviteAccount": "Account invited to sign in", "SignIn": "Signed in",
			"BeginPasskeySignIn": "Sign-in with a passkey begun", "FinishPasskeySignIn": "Signed in with a passkey",
			"BeginOpenIdSignIn": "Sign-in through the identity provider begun", "FinishOpenIdSignIn": "Signed in through the identity provider",
			"SignOut": "Signed out", "EndSession": "Session ended", "EndSessions": "Sessions ended",
			"BeginPasskey": "Entering of a passkey begun", "FinishPasskey": "Passkey entered",
			"BeginPassword": "Setting of a password begun", "FinishPassword": "Password set",
			"ChangePassword": "Password changed", "CreateRecoveryCodes": "Recovery codes made", "RemoveSignInWay": "Way to sign in removed",
		},
		"build.v1.BuildService": {
			"CreateBuild": "Build record entered", "AmendBuild": "Amended", "RecordChange": "Change of the vehicle recorded", "RecordChanges": "Changes of the vehicle recorded",
			"MoveComponent": "Component moved", "CreateRelease": "Release entered",
			"StageImport": "Part of an import handed in", "CommitImport": "Import taken over",
		},
		"bulletin.v1.BulletinService": {
			"CreateBulletin": "Bulletin drafted", "UpdateBulletin": "Draft of a bulletin changed", "IssueBulletin": "Bulletin issued",
			"WithdrawBulletin": "Bulletin withdrawn", "RecordFollowUpStep": "Step of a campaign recorded", "RefreshSets": "Lists of campaigns brought up to date",
			"StageImport": "Part of an import handed in", "CommitImport": "Import taken over",
		},
		"enquiry.v1.EnquiryService": {
			"CreateEnquiry": "Enquiry recorded", "UpdateEnquiry": "Enquiry changed", "RecordAnswer": "Answer to an enquiry recorded",
			"StageImport": "Part of an import handed in", "CommitImport": "Import taken over",
			"CreateAnswerNote": "Answer note written", "UpdateAnswerNote": "Answer note changed", "ReviewAnswerNote": "Answer note reviewed",
		},
		"jobsheet.v1.JobSheetService": {
			"CreateJobSheet": "Job sheet made", "CancelJobSheet": "Job sheet cancelled", "ReturnJobSheet": "Returned job sheet taken in",
			"VoidJobReturn": "What came back on a job sheet struck out",
		},
		"handbook.v1.HandbookService": {
			"CreateBook": "Version of a handbook's text entered", "IssueHandbook": "Handbook issued",
			"KeepHandbookFile": "File of an imported handbook kept", "StageImport": "Part of an import handed in", "CommitImport": "Import taken over",
		},
		"owner.v1.OwnerService": {
			"CreatePerson": "Person entered", "UpdatePerson": "Person's record changed",
			"CreateTie": "Tie to the vehicle entered", "UpdateTie": "Tie to the vehicle changed", "EndTie": "Tie to the vehicle ended",
			"RecordConsent": "Consent recorded", "MarkUndeliverable": "Address marked as undeliverable",
			"DeleteContactChange": "Former address told that it was replaced",
			"OfferTransfer":       "Change of owner offered", "AcceptTransfer": "Change of owner accepted",
			"CancelTransfer": "Change of owner called off", "RecordTransfer": "Change of owner recorded",
			"UpdateStanding": "Standing of the vehicle changed", "ErasePerson": "Person erased", "StoreDocument": "Document stored",
			"StageImport": "Part of an import handed in", "CommitImport": "Import taken over",
		},
		"parts.v1.PartsService": {
			"StageImport": "Part of an import handed in", "CommitImport": "Import taken over",
		},
		"reminder.v1.ReminderService": {
			"RetryNotice": "Parked notice taken up again", "RunPass": "Reminder pass run", "CompleteTask": "Task closed",
			"CreateOptOut": "Notices stopped", "EndOptOut": "Notices taken up again",
			"CreateAnswer": "Answer to a notice recorded", "WithdrawAnswer": "Answer to a notice taken back",
			"UpdateCadence": "Cadence of notices changed", "MarkPosted": "Letter marked as posted",
			"SendHandbook":       "Handbook sent",
			"CreateCalendarFeed": "Calendar address made", "EndCalendarFeed": "Calendar address ended",
			"WithdrawLinks": "Links in messages withdrawn", "SendConfirmation": "Confirmation asked for at the address on record", "TakeReturn": "Returned message taken in", "TakeTextEvent": "Report of the text gateway taken in",
		},
		"schedule.v1.ScheduleService": {
			"RecordReading": "Reading recorded", "SettleReading": "Doubtful reading settled",
			"RecordService": "Service recorded", "VoidServiceEntry": "Service entry struck out",
			"RecordEvent": "Event recorded", "DeclareUse": "Use of the vehicle declared", "EndUse": "Use of the vehicle ended",
			"CreateProgramme": "Service programme entered",
			"StageImport":     "Part of an import handed in", "CommitImport": "Import taken over",
		},
		"warranty.v1.WarrantyService": {
			"CreateWarrantyTerm":     "Warranty term entered",
			"CreateOutOfServiceSpan": "Time out of service recorded", "UpdateOutOfServiceSpan": "Time out of service changed",
			"CreateClaim": "Claim begun", "UpdateClaim": "Claim changed", "SubmitClaim": "Claim handed in", "AskClaimant": "Something asked about a claim",
			"AuthoriseClaim": "Work on a claim authorised", "DecideClaim": "Claim decided", "AppealClaim": "Appeal against a decision made",
			"RecordRecovery": "Asking back from a supplier recorded", "CloseClaim": "Claim closed", "WithdrawClaim": "Claim taken back",
			"StageImport": "Part of an import handed in", "CommitImport": "Import taken over",
		},
	} {
		for method, done := range methods {
			all["/halfshaft."+service+"/"+method] = done
		}
	}
	return all
}
