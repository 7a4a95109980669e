package desk

import (
	"context"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// fakeOwners has the ties of one vehicle, a page each, and people by their names.
// It keeps of whom it was asked.
type fakeOwners struct {
	ownerv1.OwnerServiceClient
	ties   []*ownerv1.Tie
	people map[string]string
	asked  []string
}

func (f *fakeOwners) ListTies(_ context.Context, r *ownerv1.ListTiesRequest, _ ...grpc.CallOption) (*ownerv1.ListTiesResponse, error) {
	n := len(r.GetPageToken())
	f.asked = append(f.asked, r.GetParent())
	out := &ownerv1.ListTiesResponse{Ties: f.ties[n : n+1]}
	if n+1 < len(f.ties) {
		out.NextPageToken = strings.Repeat("x", n+1)
	}
	return out, nil
}

func (f *fakeOwners) GetPerson(_ context.Context, r *ownerv1.GetPersonRequest, _ ...grpc.CallOption) (*ownerv1.Person, error) {
	f.asked = append(f.asked, r.GetName())
	if f.people[r.GetName()] == "" {
		return nil, status.Error(codes.NotFound, "there is no such person")
	}
	return &ownerv1.Person{Name: r.GetName(), FullName: f.people[r.GetName()]}, nil
}

func (f *fakeOwners) FindPeople(context.Context, *ownerv1.FindPeopleRequest, ...grpc.CallOption) (*ownerv1.FindPeopleResponse, error) {
	f.asked = append(f.asked, "people")
	return &ownerv1.FindPeopleResponse{}, nil
}

// fakeBuilds knows of every vehicle what it is, and of releases nothing.
type fakeBuilds struct {
	buildv1.BuildServiceClient
	releases int // how often it was asked for one
}

func (f *fakeBuilds) GetConfiguration(context.Context, *buildv1.GetConfigurationRequest, ...grpc.CallOption) (*buildv1.Configuration, error) {
	return &buildv1.Configuration{Wheelbase: "long", Release: "releases/r1", Plate: "AB 1", Options: []string{"winch", "lsd-rear"}, OptionTitles: []string{"Electric winch", "LSD at the rear"}}, nil
}

func (f *fakeBuilds) GetRelease(context.Context, *buildv1.GetReleaseRequest, ...grpc.CallOption) (*buildv1.Release, error) {
	f.releases++
	return nil, status.Error(codes.PermissionDenied, "not for you")
}

func (f *fakeBuilds) FindBuilds(context.Context, *buildv1.FindBuildsRequest, ...grpc.CallOption) (*buildv1.FindBuildsResponse, error) {
	return &buildv1.FindBuildsResponse{}, nil
}

// noParts has a catalogue with nothing in it.
type noParts struct{ partsv1.PartsServiceClient }

func (noParts) SearchParts(context.Context, *partsv1.SearchPartsRequest, ...grpc.CallOption) (*partsv1.SearchPartsResponse, error) {
	return &partsv1.SearchPartsResponse{}, nil
}

// visitAs is a request about a vehicle on 18 May 2026 by somebody of a role.
func visitAs(role accessv1.Role, owners *fakeOwners, builds *fakeBuilds) *visit {
	r := httptest.NewRequest("GET", "/vehicles/AM0101G", nil)
	r.SetPathValue("serial", "AM0101G")
	return &visit{w: httptest.NewRecorder(), r: r, signed: &Signed{Account: &accessv1.Account{Role: role}}, d: &desk{Config: Config{
		Owners: owners, Builds: builds, Parts: noParts{}, As: func(ctx context.Context, _ Signed) context.Context { return ctx },
		Clock: func() time.Time { return time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC) },
	}}}
}

func tieFrom(person, start, end string, role ownerv1.Role) *ownerv1.Tie {
	t := &ownerv1.Tie{Name: "vehicles/AM0101G/ties/" + person, Person: "people/" + person, Role: role}
	for text, into := range map[string]func(vehicle.Date){
		start: func(d vehicle.Date) { t.StartDate = vehiclewire.DateProto(d) }, end: func(d vehicle.Date) { t.EndDate = vehiclewire.DateProto(d) },
	} {
		if d, err := vehicle.ParseDate(text); err == nil {
			into(d)
		}
	}
	return t
}

func someTies() *fakeOwners {
	owner := ownerv1.Role_ROLE_OWNER
	return &fakeOwners{people: map[string]string{"people/now": "Ada Nettlefold", "people/leaves": "Bo Fictive", "people/past": "Cy Past", "people/cares": "Di Carer"}, ties: []*ownerv1.Tie{
		tieFrom("past", "2020-01-01", "2026-05-18", owner), // whose last day was yesterday
		tieFrom("now", "2026-05-18", "", owner), tieFrom("leaves", "2020-01-01", "2026-05-19", owner),
		tieFrom("next", "2026-05-19", "", owner), tieFrom("erased", "2020-01-01", "", owner),
		tieFrom("cares", "2020-01-01", "", ownerv1.Role_ROLE_CARETAKER),
	}}
}

func TestWhoIsTiedTodayIsToldWithoutWhoWasOrWillBe(t *testing.T) {
	owners := someTies()
	contacts, err := visitAs(accessv1.Role_ROLE_SUPPORT, owners, nil).contacts()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, c := range contacts {
		got = append(got, contactWords(c))
	}
	if want := []string{"Ada Nettlefold, owner", "Bo Fictive, owner", "erased, owner", "Di Carer, caretaker"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := visitAs(accessv1.Role_ROLE_SUPPORT, owners, &fakeBuilds{}).toTellApart("AM0101G", 0), "Long wheelbase, release r1, plate AB 1, Ada Nettlefold, Bo Fictive"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// Each refusal is a line of the audit: who may not read people or releases is not
// made to ask for them by opening a page.
func TestNobodyIsMadeToAskForWhatIsRefusedThem(t *testing.T) {
	owners, builds := someTies(), &fakeBuilds{}
	v := visitAs(accessv1.Role_ROLE_ENGINEER, owners, builds)
	if contacts, err := v.contacts(); err != nil || len(contacts) != 4 {
		t.Errorf("got %v, %v", contacts, err)
	}
	if got, want := v.toTellApart("AM0101G", 0), "Long wheelbase, release r1, plate AB 1"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if err := v.lookUp(&found{said: "Nettlefold"}); err != nil {
		t.Error(err)
	}
	for _, name := range owners.asked {
		if strings.HasPrefix(name, "people") {
			t.Errorf("an engineer asked for %s", name)
		}
	}
	identity := visitAs(accessv1.Role_ROLE_DEALER, owners, builds).identityBlock(&enquiryv1.DossierIdentity{Options: []string{"winch", "lsd-rear"}, Market: "GB"})
	for label, want := range map[string]string{"Options": "Electric winch; LSD at the rear", "Market": "United Kingdom"} {
		if !slices.ContainsFunc(identity.Facts, func(f fact) bool { return f.Label == label && f.Value == want }) {
			t.Errorf("%s is not %q: %+v", label, want, identity.Facts)
		}
	}
	if builds.releases != 0 {
		t.Error("a dealer asked for a release")
	}
}

func TestEachBoxOfSeveralStaysAsItWasTicked(t *testing.T) {
	v := visitAs(accessv1.Role_ROLE_SUPPORT, nil, nil)
	v.r.PostForm = map[string][]string{"staying": {"people/p2", "people/p3"}, "sample": {"yes"}, "note": {"said"}}
	f := (&form{Fields: []field{
		{Name: "staying", Type: "checkbox", Value: "people/p1", Checked: true}, {Name: "staying", Type: "checkbox", Value: "people/p2"},
		{Name: "staying", Type: "checkbox", Value: "people/p3"}, {Name: "sample", Type: "checkbox"}, {Name: "other", Type: "checkbox", Checked: true}, {Name: "note", Type: "text"},
	}}).filled(v)
	var got []string
	for _, x := range f.Fields {
		got = append(got, x.Name+" "+x.Value+" "+map[bool]string{true: "ticked", false: ""}[x.Checked])
	}
	if want := []string{"staying people/p1 ", "staying people/p2 ticked", "staying people/p3 ticked", "sample  ticked", "other  ", "note said "}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
