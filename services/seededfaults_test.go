//go:build faults

package services_test

// Where the tests of the faults are.
const (
	gatePackage    = "./services/access/accessgate"
	accessPackage  = "./services/access"
	signInPackage  = "./services/access/accesssignin"
	auditPackage   = "./services/access/audit"
	privacyPackage = "./services/internal/privacy"
	worksPackage   = "./services/works"
)

// seededFaults are what a tired colleague, or an attacker among them, might do
// to access, privacy and audit.
var seededFaults = []seeded{
	// Whose it is.
	{
		name: "nobody asks whose vehicle it is",
		file: "services/access/accessgate/rules.go",
		old:  "	if !has(serial) {\n", new: "	if false {\n",
		pkg: gatePackage, run: "TestEveryMethodAsEveryRoleAboutEveryObject",
	},
	{
		name: "one method does not ask whose vehicle it is",
		file: "services/access/table.go",
		old:  `"GetVisitPlan":           {Roles: reads | owners | dealers, Names: about("name", aVehicle+"/visitPlan")},`,
		new:  `"GetVisitPlan":           {Roles: reads | owners | dealers},`,
		pkg:  accessPackage, run: "TestTheTableKeepsToTheBrief",
	},
	{
		name: "one person may read another",
		file: "services/access/accessgate/rules.go",
		old:  "people+ids[0] != caller.Person)", new: "false)",
		pkg: gatePackage, run: "TestEveryMethodAsEveryRoleAboutEveryObject",
	},
	{
		name: "an assignment is open a day too long",
		file: "services/access/assignment.go",
		old:  "!on.After(a.Last)", new: "!on.After(a.Last.AddDays(1))",
		pkg: accessPackage, run: "TestAnAssignment",
	},
	{
		name: "a former owner's consent lives on",
		file: "services/access/assignment.go",
		old:  `return a.ConsentedBy != "" && tied(a.ConsentedBy)`, new: `return a.ConsentedBy != ""`,
		pkg: gatePackage, run: "TestRandomHistoriesOfTiesAssignmentsAccountsAndKeys",
	},
	{
		name: "a closed account still opens the door",
		file: "services/access/accessgate/book.go",
		old:  "case !ok || !a.Open():", new: "case !ok:",
		pkg: gatePackage, run: "TestRandomHistoriesOfTiesAssignmentsAccountsAndKeys",
	},

	// Who it is.
	{
		name: "keys are compared by ==",
		file: "services/access/key.go",
		old:  "case subtle.ConstantTimeCompare(digest[:], k.Digest[:]) != 1:",
		new:  "case subtle.ConstantTimeEq(0, 0) != 1 || digest != k.Digest:",
		pkg:  "./services", run: "TestSecretsAreComparedInConstantTime",
	},
	{
		name: "a key that has expired opens the door",
		file: "services/access/key.go",
		old:  "case !k.Expires.IsZero() && !now.Before(k.Expires):", new: "case false:",
		pkg: accessPackage, run: "TestAKeyAdmitsItsOwnSecretWhileItIsGood",
	},
	{
		name: "anybody may say for whom they call",
		file: "services/access/accessgate/enter.go",
		old:  "	case by.Role != access.Service:\n", new: "	case false:\n",
		pkg: gatePackage, run: "TestAStrangerIsTurnedAway",
	},
	{
		name: "a service needs no certificate",
		file: "services/access/accessgate/enter.go",
		old:  "	if grpcserver.Transport(ctx) != grpcserver.TCP || ", new: "	if true || ",
		pkg: gatePackage, run: "TestWhereServicesMustShowACertificateOnlyTheyAndOnlyOverTCPMust",
	},
	{
		name: "a service from another machine needs no certificate",
		file: "services/access/accessgate/enter.go",
		old:  "!g.proofs && onLoopback(ctx)", new: "!g.proofs",
		pkg: gatePackage, run: "TestAServicesKeyAloneIsGoodOnThisMachineOnly",
	},
	{
		name: "scopes are not asked",
		file: "services/access/accessgate/enter.go",
		old:  "!access.InScope(by.scopes, v.method)", new: "false",
		pkg: gatePackage, run: "TestTheScopesOfAKeyCountAtTheOuterDoorOnly",
	},
	{
		name: "a code of the minute counts twice",
		file: "services/access/accesssignin/password.go",
		old:  "		c.LastCodeStep = step\n", new: "		_ = step\n",
		pkg: signInPackage, run: "TestACodeCountsOnceAlsoForTwoWhoShowItAtOnce",
	},
	{
		name: "a session never ends of itself",
		file: "services/access/accesssignin/session.go",
		old:  "!times(r.SessionRecord).Open(h.Role, s.now())", new: "false",
		pkg: signInPackage, run: "TestASessionEndsOfItself",
	},
	{
		name: "links are taken whoever signed them",
		file: "services/internal/links/links.go",
		old:  "k.ID == id && hmac.Equal(mac, k.mac(signed))", new: "k.ID == id && hmac.Equal(mac, mac)",
		pkg: "./services/internal/links", run: "TestALinkReadsBackAndNothingElseDoes",
	},

	// What is told.
	{
		name: "the mask is forgotten on one field",
		file: "services/internal/privacy/mask.go",
		old:  "		if m.Has(fd) {\n			m.Clear(fd)\n",
		new:  "		if m.Has(fd) && fd.FullName() != \"halfshaft.schedule.v1.Reading.stated_by\" {\n			m.Clear(fd)\n",
		pkg:  gatePackage, run: "TestNoDealerSeesWhatIsNotSaidToBeForDealers",
	},
	{
		name: "answers to dealers are not masked",
		file: "services/access/accessgate/call.go",
		old:  "	if c.Role != access.Dealer {\n", new: "	if true {\n",
		pkg: gatePackage, run: "TestADealerGetsACopyWithoutWhatIsPersonal",
	},
	{
		name: "an error repeats a mail address",
		file: "services/access/accessgate/call.go",
		old:  "	safe.Fields = privacy.Redact(m, f.Fields)\n", new: "	privacy.Redact(m, nil)\n",
		pkg: gatePackage, run: "TestARefusalRepeatsNothingPersonal",
	},
	{
		name: "a mail address is logged",
		file: "services/owner/ownerrpc/people.go",
		old:  "	if s.store.Erased(p.ID) {\n		return nil, neverAgain(p.ID)\n	}\n	answer, revision, err := s.store.CreatePerson(",
		new:  "	s.logger.Warn(\"a person\", \"email\", p.Email)\n	answer, revision, err := s.store.CreatePerson(",
		pkg:  worksPackage, run: "TestNothingPersonalIsWrittenAnywhere",
	},

	// What goes out, what comes in.
	{
		name: "a redirect is followed",
		file: "services/internal/outgoing/outgoing.go",
		old:  "return http.ErrUseLastResponse }", new: "return nil }",
		pkg: "./services/internal/outgoing", run: "TestNoRedirectIsFollowed",
	},
	{
		name: "an address is not checked when it is dialled",
		file: "services/internal/outgoing/outgoing.go",
		old:  "		return d.allowed.check(host, at.Addr())\n", new: "		_, _ = at, host\n		return nil\n",
		pkg: "./services/internal/outgoing", run: "TestANameThatChangesItsAddressIsCheckedWhenItIsConnectedTo",
	},
	{
		name: "over-limit answers tell the wrong time",
		file: "services/access/accessgate/limits.go",
		old:  "Message: sentence, RetryAfter: wait}", new: "Message: sentence, RetryAfter: wait / 2}",
		pkg: gatePackage, run: "TestWhoCallsTooOftenIsToldTheTruthAboutWhenToComeBack",
	},

	// What was done.
	{
		name: "one method's line of the audit is dropped",
		file: "services/access/accessgate/record.go",
		old:  "	if access.Changes(v.method) && !v.rule.Bookkeeping {\n",
		new:  "	if access.Changes(v.method) && !v.rule.Bookkeeping && v.method != \"/halfshaft.schedule.v1.ScheduleService/SettleReading\" {\n",
		pkg:  worksPackage, run: "TestEveryMethodOfTheWholeWorksAsEverybodyAboutEverything",
	},
	{
		name: "a refusal leaves no line",
		file: "services/access/accessgate/record.go",
		old:  "	g.recorder.Note(line)\n}\n\n// line begins", new: "	_ = line\n}\n\n// line begins",
		pkg: gatePackage, run: "TestWhatCameOfACallIsInTheAudit",
	},
	{
		name: "the chain is not held against its hashes",
		file: "services/access/audit/verify.go",
		old:  "		if s.hashAfter(previous) == s.Hash {\n", new: "		if s.hashAfter(previous) == s.Hash || true {\n",
		pkg: auditPackage, run: "TestAnySingleMutationIsFoundAndNamedAtItsPlace",
	},
	{
		name: "a changed line passes",
		file: "services/access/audit/verify.go",
		old:  "case sha256.Sum256([]byte(s.Text)) != s.TextSHA256:", new: "case sha256.Sum256([]byte(s.Text)) != sha256.Sum256([]byte(s.Text)):",
		pkg: auditPackage, run: "TestAnySingleMutationIsFoundAndNamedAtItsPlace",
	},
}
