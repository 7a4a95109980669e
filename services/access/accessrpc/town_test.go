package accessrpc_test

import (
	"context"
	"strings"
	"time"

	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The town's vehicles: AM0101G is p1's, who sells it to p2 on the tenth day;
// p3 keeps it all the while and p4 pays for it. AM0103C is p5's.
var town = []*ownerv1.Tie{
	tie("AM0101G", "t1", "p1", ownerv1.Role_ROLE_OWNER, -100, 10),
	tie("AM0101G", "t2", "p2", ownerv1.Role_ROLE_OWNER, 10, 0),
	tie("AM0101G", "t3", "p3", ownerv1.Role_ROLE_CARETAKER, -100, 0),
	tie("AM0101G", "t4", "p4", ownerv1.Role_ROLE_PAYER, -100, 0),
	tie("AM0103C", "t1", "p5", ownerv1.Role_ROLE_OWNER, -100, 0),
}

// tie makes a tie from a day to another, counted from today; 0 has no end.
func tie(serial, id, person string, role ownerv1.Role, from, until int) *ownerv1.Tie {
	day := vehicle.DateOf(today)
	t := &ownerv1.Tie{
		Name: "vehicles/" + serial + "/ties/" + id, Person: "people/" + person, Role: role,
		StartDate: vehiclewire.DateProto(day.AddDays(from)),
	}
	if until != 0 {
		t.EndDate = vehiclewire.DateProto(day.AddDays(until))
	}
	return t
}

// townsTies gives them as the owner service does: an owner gets their own.
type townsTies struct {
	ownerv1.UnimplementedOwnerServiceServer
}

func (townsTies) WatchTies(_ *ownerv1.WatchTiesRequest, s grpc.ServerStreamingServer[ownerv1.WatchTiesResponse]) error {
	if err := s.Send(&ownerv1.WatchTiesResponse{Revision: 1, Synced: true, Ties: town}); err != nil {
		return err
	}
	<-s.Context().Done()
	return s.Context().Err()
}

func (townsTies) ListTies(ctx context.Context, r *ownerv1.ListTiesRequest) (*ownerv1.ListTiesResponse, error) {
	c, out := access.CallerFrom(ctx), &ownerv1.ListTiesResponse{}
	for _, t := range town {
		mine := c.Role != access.Owner || t.GetPerson() == c.Person
		if mine && (r.GetParent() == "vehicles/-" || strings.HasPrefix(t.GetName(), r.GetParent()+"/")) {
			out.Ties = append(out.Ties, t)
		}
	}
	return out, nil
}

// GetPerson knows who lives there: whoever is tied to a vehicle.
func (townsTies) GetPerson(_ context.Context, r *ownerv1.GetPersonRequest) (*ownerv1.Person, error) {
	for _, t := range town {
		if t.GetPerson() == r.GetName() {
			return &ownerv1.Person{Name: r.GetName()}, nil
		}
	}
	return nil, access.NoPerson(strings.TrimPrefix(r.GetName(), "people/"))
}

// townsBuilds knows which vehicles there are.
type townsBuilds struct {
	buildv1.UnimplementedBuildServiceServer
}

func (townsBuilds) GetBuild(_ context.Context, r *buildv1.GetBuildRequest) (*buildv1.Build, error) {
	switch serial := strings.TrimPrefix(r.GetName(), "builds/"); serial {
	case "AM0101G", "AM0103C", "AM0104A":
		return &buildv1.Build{Name: r.GetName()}, nil
	default:
		return nil, access.NoVehicle(vehicle.Serial(serial))
	}
}

// signIns says which accounts have a password and a code.
type signIns map[string]bool

func (s signIns) Ways(account string) []accessv1.SignInWay {
	if s[account] {
		return []accessv1.SignInWay{accessv1.SignInWay_SIGN_IN_WAY_PASSWORD_AND_CODE}
	}
	return nil
}

func (s signIns) LastSignIn(account string) time.Time {
	if s[account] {
		return today
	}
	return time.Time{}
}

// Who calls in the tests.
var (
	desk = access.Caller{Role: access.Support, Bearer: "front desk"}
	p1   = access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p1"}
	p2   = access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p2"}
	p3   = access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p3"}
	p4   = access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p4"}
	p5   = access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p5"}
	ned  = access.Caller{Role: access.Dealer, Bearer: "ned", Organisation: "organisations/ferncombe"}
	ada  = access.Caller{Role: access.Dealer, Bearer: "ada", Organisation: "organisations/hollin"}
	gate = access.Caller{Role: access.Service, Bearer: "gate"}
)
