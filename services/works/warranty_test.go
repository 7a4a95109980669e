package works_test

import (
	"bytes"
	"context"
	"regexp"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/console"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"

	"github.com/google/uuid"
)

// teller prints what one caller asks of the whole works.
type teller struct {
	*console.Console
	out bytes.Buffer
	t   *testing.T
}

func newTeller(t *testing.T, c works.Clients) *teller {
	k := &teller{t: t}
	k.Console = &console.Console{Access: c.Access, Owners: c.Owners, Builds: c.Builds, Parts: c.Parts, Schedules: c.Schedules, Reminders: c.Reminders,
		Warranties: c.Warranties, Out: &k.out}
	return k
}

// said gives what was printed since the last time.
func (k *teller) said(err error) string {
	k.t.Helper()
	if err != nil {
		k.t.Fatal(err)
	}
	text := k.out.String()
	k.out.Reset()
	return text
}

// Names of claims and times out of service are drawn; everything else that is
// printed is the same each time.
var drawn = regexp.MustCompile(`(claims|outOfServiceSpans)/[0-9a-f]{12}`)

// A warranty from its terms to the money that came back, by the command line's
// own words, over the whole works: what support reads is what a person read and
// found good.
func TestCoverAndClaimsReadAsTheGoldenFilesSay(t *testing.T) {
	p, ctx, clients := startDemo(t, works.Config{Listen: "127.0.0.1:0", Works: works.WorksConfig{
		Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", Postal: []string{"1 Mill Lane", "Aldermoor"}, Zone: "Europe/London"}})
	k := newTeller(t, clients)
	terms, err := aldermoor.WarrantyTerms()
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range terms {
		k.said(k.AddWarrantyTerm(ctx, text))
	}
	golden(t, "warranty-terms", k.said(k.WarrantyTerms(ctx)))
	none := vehicle.Date{}
	golden(t, "cover", k.said(k.Cover(ctx, "AM0164N", "", none, ""))+"\n"+
		k.said(k.Cover(ctx, "AM0164N", "gearbox", vehicle.MustDate(2026, 4, 8), ""))+"\n"+ // the day before delivery
		k.said(k.Cover(ctx, "AM0164N", "gearbox", vehicle.MustDate(2028, 4, 9), "11,999 mi"))+"\n"+ // the last day
		k.said(k.Cover(ctx, "AM0164N", "gearbox", vehicle.MustDate(2028, 4, 10), "11,999 mi"))+"\n"+ // and the next
		k.said(k.Cover(ctx, "AM0101G", "", none, "")))
	golden(t, "warranty-document", k.said(k.WarrantyDocument(ctx, "AM0164N")))
	claimed := carryClaim(t, ctx, p, k)
	golden(t, "claim", drawn.ReplaceAllString(claimed, "$1/0123456789ab"))
}

// carryClaim has a claim made from a file, decided, appealed against by its
// maker, decided by somebody else, and asked back.
func carryClaim(t *testing.T, ctx context.Context, p *works.Process, k *teller) string {
	t.Helper()
	var all strings.Builder
	note := func(err error) string {
		t.Helper()
		text := k.said(err)
		all.WriteString(text + "\n")
		return text
	}
	name := drawnName(t, note(k.CreateClaim(ctx, "AM0164N", []byte(`
position: transfer-case
failure_date: 2026-05-12
symptom: whine on overrun
cause: bearing pitted
remedy: bearing and seal replaced
parts:
  - {part: AP-1210, quantity: 1, failed_lot: L-77, unit_price_minor: 8450}
labour:
  - {text: output housing off and on, minutes: 130, hourly_rate_minor: 6000}
currency: GBP
`), console.ClaimTyped{Other: []string{"carriage at 12.00"}})))
	k.said(k.MoveClaim(ctx, name, "submit", ""))
	note(k.RecordOutOfService(ctx, console.OutOfService{Serial: "AM0164N", Start: vehicle.MustDate(2026, 5, 12), End: vehicle.MustDate(2026, 5, 16),
		Reason: "waiting for a bearing", Claim: name, Counts: true}))
	note(k.Cover(ctx, "AM0164N", "transfer-case", vehicle.MustDate(2028, 4, 12), "11,999 mi")) // five days are added
	k.said(k.DecideClaim(ctx, name, console.Decision{Outcome: "partly", Parts: "84.50", Labour: "60.00", Reason: "one hour is what the work takes"}))
	k.said(k.MoveClaim(ctx, name, "appeal", "the studs were seized"))
	if err := k.DecideClaim(ctx, name, console.Decision{Outcome: "accepted", Reason: "agreed"}); !hasReason(err, "SAME_PERSON") {
		t.Errorf("who decided may decide the appeal: %v", err)
	}
	engineer := access.NewContext(context.Background(), access.Caller{Role: access.Engineer, Bearer: "workshop", Credential: "socket"})
	k.said(k.DecideClaim(engineer, name, console.Decision{Outcome: "accepted", Reason: "seized studs were seen on the photograph"}))
	k.said(k.RecordRecovery(ctx, name, console.Recovery{State: "asked", Supplier: "Oakhanger Gear Rebuilders", Asked: "84.50"}))
	k.said(k.RecordRecovery(ctx, name, console.Recovery{State: "received", Received: "84.50", Text: "credit note 118"}))
	note(k.MoveClaim(ctx, name, "close", "paid with the May account"))
	note(k.Claims(ctx, "-", ""))
	note(k.ClaimSums(ctx, "lot", vehicle.Date{}, vehicle.Date{}))
	note(k.OutOfServiceSpans(ctx, "AM0164N"))
	strangers(t, ctx, p, name)
	return all.String()
}

// strangers sees that the claim is not there for a dealer who did not make it,
// over the network and by a key of their own.
func strangers(t *testing.T, ctx context.Context, p *works.Process, name string) {
	t.Helper()
	admin := p.Clients().Access
	got(admin.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{RequestId: uuid.NewString(), Organisation: &accessv1.Organisation{Name: "organisations/quay", Title: "Quay Garage"}}))(t)
	key := got(admin.CreateKey(ctx, &accessv1.CreateKeyRequest{RequestId: uuid.NewString(), Key: &accessv1.Key{Title: "quay", Bearer: "quay", Role: accessv1.Role_ROLE_DEALER, Organisation: "organisations/quay"}}))(t)
	got(admin.CreateAssignment(ctx, &accessv1.CreateAssignmentRequest{Parent: "vehicles/AM0164N", RequestId: uuid.NewString(), Assignment: &accessv1.Assignment{
		Organisation: "organisations/quay", Ground: accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS, Purpose: "a look"}}))(t)
	conn, err := works.Dial(p.Address().String(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	dealer := warrantyv1.NewWarrantyServiceClient(accessgate.Present(conn, key.GetSecret()))
	if _, err := dealer.GetClaim(t.Context(), &warrantyv1.GetClaimRequest{Name: name}); !hasReason(err, "CLAIM_NOT_FOUND") {
		t.Errorf("another's claim: %v", err)
	}
	cover := got(dealer.GetCover(t.Context(), &warrantyv1.GetCoverRequest{Name: "vehicles/AM0164N/covers/transfer-case"}))(t)
	if cover.GetState() != warrantyv1.CoverState_COVER_STATE_COVERED || strings.Contains(cover.String(), name) {
		t.Errorf("a dealer reads of cover, and of another's claim nothing: %v", cover)
	}
}

func hasReason(err error, reason string) bool {
	f := rpcerr.FromStatus(err)
	return f != nil && f.Reason == reason && f.Kind != fault.Internal
}

func drawnName(t *testing.T, text string) string {
	t.Helper()
	id := drawn.FindString(text)
	if id == "" {
		t.Fatalf("no name in %q", text)
	}
	return "vehicles/AM0164N/" + id
}
