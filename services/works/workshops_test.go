package works_test

import (
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/type/latlng"
	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// titles are the workshops of an answer with their grounds, in order.
func titles(r *enquiryv1.SearchWorkshopsResponse) string {
	var out []string
	for _, w := range r.GetWorkshops() {
		out = append(out, w.GetTitle()+" "+strings.ToLower(strings.TrimPrefix(w.GetGround().String(), "WORKSHOP_GROUND_")))
	}
	return strings.Join(out, ", ")
}

// The desk is told of everybody; the owner of a vehicle and a dealer whom it is
// assigned to are told of those that publish how they are reached, and of other
// vehicles that there are none.
func TestOwnersAndDealersAreToldWhoCanDoTheWorkOnTheirs(t *testing.T) {
	racetest.Skip(t, "its calls follow each other")
	p, ctx, clients := startDemo(t, works.Config{})
	secret := got(works.MakeDealer(ctx, clients.Access))(t)
	got(clients.Access.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{Name: "organisations/quiet", Title: "Quiet Garage"}}))(t)
	owner := ""
	for _, tie := range got(clients.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/" + aldermoor.TourSerial}))(t).GetTies() {
		if tie.GetEndDate() == nil && tie.GetRole() == ownerv1.Role_ROLE_OWNER {
			owner = tie.GetPerson()
		}
	}
	key := got(clients.Access.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "theirs", Role: accessv1.Role_ROLE_OWNER, Person: owner}}))(t)
	through := func(secret string) enquiryv1.EnquiryServiceClient {
		return works.NewClients(func(string) grpc.ClientConnInterface { return accessgate.Present(p.Within(), secret) }).Enquiries
	}
	ask := func(serial string) *enquiryv1.SearchWorkshopsRequest {
		return &enquiryv1.SearchWorkshopsRequest{Parent: "vehicles/" + serial}
	}
	const here = "Ferncombe Garage assigned, Fell Side Motors same_country, Harbour Road Garage same_country, Quay Street Workshop other"
	desk := got(clients.Enquiries.SearchWorkshops(ctx, ask(aldermoor.TourSerial)))(t)
	if titles(desk) != here+", Quiet Garage other" || desk.GetQuestion() != nil {
		t.Errorf("the desk is told of %s", titles(desk))
	}
	theirs := got(through(key.GetSecret()).SearchWorkshops(t.Context(), ask(aldermoor.TourSerial)))(t)
	if titles(theirs) != here || theirs.GetWorkshops()[0].GetContact().GetPhone() != "+441632960181" {
		t.Errorf("the owner is told of %s", titles(theirs))
	}
	dealers := got(through(secret).SearchWorkshops(t.Context(), ask(aldermoor.TourSerial)))(t)
	if titles(dealers) != "Ferncombe Garage assigned, Fell Side Motors other, Harbour Road Garage other, Quay Street Workshop other" || strings.Contains(dealers.String(), "owner") {
		t.Errorf("a dealer, who is not told where owners live, is told of %s: %v", titles(dealers), dealers)
	}
	if dealers.GetWorkshops()[1].GetContact().GetEmail() == "" {
		t.Error("a dealer is not told how others are reached")
	}
	for who, c := range map[string]enquiryv1.EnquiryServiceClient{"an owner": through(key.GetSecret()), "a dealer": through(secret)} {
		_, others := c.SearchWorkshops(t.Context(), ask(aldermoor.OthersSerial))
		if others == nil || !strings.Contains(others.Error(), "There is no vehicle "+aldermoor.OthersSerial+" here.") {
			t.Errorf("%s asks about another's vehicle: %v", who, others)
		}
		if _, err := c.GetDossier(t.Context(), &enquiryv1.GetDossierRequest{Name: "vehicles/" + aldermoor.TourSerial + "/dossier"}); err == nil {
			t.Errorf("%s has the page for the telephone", who)
		}
	}
}

func TestWorkshopsAreThoseNearThePlaceThatIsAskedAbout(t *testing.T) {
	racetest.Skip(t, "its calls follow each other")
	_, ctx, clients := startDemo(t, works.Config{})
	none := got(clients.Enquiries.SearchWorkshops(ctx, &enquiryv1.SearchWorkshopsRequest{Parent: "vehicles/AM0134Z"}))(t)
	if len(none.GetWorkshops()) != 0 || len(none.GetNotes()) != 2 || none.GetQuestion().GetText() != "Where is the vehicle: near which town?" {
		t.Errorf("of none: %v", none)
	}
	got(works.MakeDealer(ctx, clients.Access))(t)
	sydney := &latlng.LatLng{Latitude: -33.8, Longitude: 151.2}
	for name, c := range map[string]struct {
		request *enquiryv1.SearchWorkshopsRequest
		want    string
	}{
		"a place":          {&enquiryv1.SearchWorkshopsRequest{Near: sydney, DistanceUnit: "km"}, "Quay Street Workshop near, Fell Side Motors near"},
		"a town":           {&enquiryv1.SearchWorkshopsRequest{NearTown: " FERNCOMBE "}, "Ferncombe Garage near, Harbour Road Garage near"},
		"with its code":    {&enquiryv1.SearchWorkshopsRequest{NearTown: "Fellgarth FG3 7SM"}, "Fell Side Motors near, "},
		"no such town":     {&enquiryv1.SearchWorkshopsRequest{NearTown: "Fern"}, "near_town"},
		"two places":       {&enquiryv1.SearchWorkshopsRequest{NearTown: "Ferncombe", Near: sydney}, "near_town"},
		"no place at all":  {&enquiryv1.SearchWorkshopsRequest{Near: &latlng.LatLng{Latitude: -91}, DistanceUnit: "yd"}, "near distance_unit"},
		"another's token":  {&enquiryv1.SearchWorkshopsRequest{PageToken: "x"}, "page_token"},
		"too large a page": {&enquiryv1.SearchWorkshopsRequest{PageSize: -1}, "page_size"},
	} {
		t.Run(name, func(t *testing.T) {
			c.request.Parent = "vehicles/AM0134Z" // Lighthouse Auto did its visits, and is not on record
			answer, err := clients.Enquiries.SearchWorkshops(ctx, c.request)
			if err != nil {
				if fields := strings.Join(fieldsOf(err), " "); fields != c.want {
					t.Errorf("refused for %q, want %q: %v", fields, c.want, err)
				}
				return
			}
			if !strings.HasPrefix(titles(answer), c.want) || !strings.Contains(strings.Join(answer.GetNotes(), " "), "Lighthouse Auto did work") || answer.GetQuestion() != nil {
				t.Errorf("got %s; %v", titles(answer), answer)
			}
			if first := answer.GetWorkshops()[0]; c.request.GetNear() != nil && (first.GetDistanceText() != "91 km" || first.GetDistance()/1_000_000 != 90) {
				t.Errorf("%d mm, %q", first.GetDistance(), first.GetDistanceText())
			}
		})
	}
	pages(t, func(token string) (*enquiryv1.SearchWorkshopsResponse, error) {
		return clients.Enquiries.SearchWorkshops(ctx, &enquiryv1.SearchWorkshopsRequest{Parent: "vehicles/AM0134Z", PageSize: 3, PageToken: token})
	})
}

// pages reads an answer page by page: everybody once.
func pages(t *testing.T, ask func(token string) (*enquiryv1.SearchWorkshopsResponse, error)) {
	t.Helper()
	one := got(ask(""))(t)
	two := got(ask(one.GetNextPageToken()))(t)
	all := titles(one) + ", " + titles(two)
	if len(one.GetWorkshops()) != 3 || len(two.GetWorkshops()) != 1 || two.GetNextPageToken() != "" || strings.Count(all, "Garage") != 2 {
		t.Errorf("got %s and %s", titles(one), titles(two))
	}
}

// fieldsOf are the fields that a refusal is about, in its order.
func fieldsOf(err error) []string {
	var out []string
	for _, f := range rpcerr.FromStatus(err).Fields {
		out = append(out, f.Name)
	}
	return out
}
