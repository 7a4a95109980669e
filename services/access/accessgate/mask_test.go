package accessgate

import (
	"context"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// sees is a scene with a dealer and an owner who see AM0147P, and staff.
func sees(t *testing.T) (s *scene, callers map[access.Role]access.Caller) {
	s = newScene(t)
	s.tellOrganisation(access.Organisation{ID: "ferncombe"})
	s.tellTie(tieOf("1", ownerv1.Role_ROLE_OWNER, &date.Date{Year: 2020, Month: 1, Day: 1}, nil))
	s.tellAssignment(access.Assignment{ID: "1", Vehicle: "AM0147P", Organisation: "organisations/ferncombe",
		Ground: access.ByWorks, Start: day("2026-01-01"), Last: day("2026-12-31")})
	return s, map[access.Role]access.Caller{
		access.Owner:   {Role: access.Owner, Bearer: "owner", Person: "people/p1"},
		access.Dealer:  {Role: access.Dealer, Bearer: "hal", Organisation: "organisations/ferncombe"},
		access.Support: {Role: access.Support, Bearer: "desk"},
	}
}

func TestADealerGetsACopyWithoutWhatIsPersonal(t *testing.T) {
	s, callers := sees(t)
	shared := &accessv1.Assignment{Name: "vehicles/AM0147P/assignments/1", ConsentedBy: "people/p1", Purpose: "24-month service"}
	before := proto.Clone(shared)
	request := &accessv1.GetAssignmentRequest{Name: shared.Name}
	for role, c := range callers {
		got, err := s.call(forwards(c), accessv1.AccessService_GetAssignment_FullMethodName, request, func(context.Context, any) (any, error) { return shared, nil })
		if err != nil {
			t.Fatal(err)
		}
		a := got.(*accessv1.Assignment)
		if hidden := a.GetConsentedBy() == ""; hidden != (role == access.Dealer) || a.GetPurpose() != shared.GetPurpose() {
			t.Errorf("the role %s gets %v", role, a)
		}
	}
	if !proto.Equal(shared, before) {
		t.Errorf("the answer that others share was changed: %v", shared)
	}
}

// sending is a stream that remembers what was sent.
type sending struct {
	watching
	sent []proto.Message
}

func (s *sending) SendMsg(m any) error {
	s.sent = append(s.sent, m.(proto.Message))
	return nil
}

func TestTheAnswersOfAStreamAreMaskedForADealerToo(t *testing.T) {
	// No method that streams is open to dealers; the gate is ready for one.
	shared := &accessv1.WatchDoorResponse{Assignments: []*accessv1.Assignment{{ConsentedBy: "people/p1"}}}
	s, callers := sees(t)
	for role, c := range callers {
		under := &sending{}
		ss := &guarded{ServerStream: under, ctx: t.Context(), gate: s.gate, visit: visit{caller: c}}
		if err := ss.SendMsg(shared); err != nil {
			t.Fatal(err)
		}
		got := under.sent[0].(*accessv1.WatchDoorResponse).GetAssignments()[0].GetConsentedBy()
		if (got == "") != (role == access.Dealer) {
			t.Errorf("the role %s gets %q", role, got)
		}
	}
	if shared.GetAssignments()[0].GetConsentedBy() == "" {
		t.Error("the answer that others share was changed")
	}
	ss := &guarded{ServerStream: &sending{}, ctx: t.Context(), gate: s.gate, visit: visit{caller: callers[access.Dealer]}}
	if err := ss.SendMsg("no message"); !fault.Is(err, fault.Internal) {
		t.Errorf("what the gate cannot read goes to a dealer: %v", err)
	}
}

func TestARefusalRepeatsNothingPersonal(t *testing.T) {
	const secret = "ada@nettlefold.example, not an address"
	s, callers := sees(t)
	request := &ownerv1.UpdatePersonRequest{Person: &ownerv1.Person{Name: "people/p1", Email: secret}}
	refusal := fault.InvalidFields([]fault.Field{{Name: "person.email", Got: secret, Want: "an address"}, {Name: "request_id", Got: "everything", Want: "a UUID"}})
	for _, role := range []access.Role{access.Owner, access.Support} {
		_, err := s.call(forwards(callers[role]), ownerv1.OwnerService_UpdatePerson_FullMethodName, request, func(context.Context, any) (any, error) { return nil, refusal })
		if err == nil || strings.Contains(err.Error(), "nettlefold") || !strings.Contains(err.Error(), "person.email") || !strings.Contains(err.Error(), "everything") {
			t.Errorf("the role %s is told %v", role, err)
		}
	}
	if refusal.(*fault.Error).Fields[0].Got != secret {
		t.Error("the refusal that the method holds was changed")
	}
	// The gate's own refusals as well, and those of streams.
	misread := &ownerv1.GetPersonRequest{Name: "people/ada nettlefold/x"}
	if _, err := s.call(forwards(callers[access.Owner]), ownerv1.OwnerService_GetPerson_FullMethodName, misread, doesNothing); !fault.Is(err, fault.Invalid) {
		t.Errorf("a name that cannot be read: %v", err)
	}
	err := s.gate.Stream()(nil, watching{ctx: forwards(access.Caller{Role: access.Service, Bearer: "x"})},
		&grpc.StreamServerInfo{FullMethod: ownerv1.OwnerService_WatchTies_FullMethodName}, func(_ any, ss grpc.ServerStream) error {
			if err := ss.RecvMsg(request); err != nil {
				return err
			}
			return refusal
		})
	if err == nil || strings.Contains(err.Error(), "nettlefold") {
		t.Errorf("over a stream: %v", err)
	}
}

// What is another's and what is not there come to the same after the same
// questions: of the store none, and of what the gate knows the same number.
func TestAnAnswerAboutAnothersVehicleTakesTheWayOfOneThatIsNotThere(t *testing.T) {
	s, callers := sees(t)
	other, former, missing := mustSerial("AM0148"), mustSerial("AM0151"), mustSerial("AM0999")
	s.tellTie(&ownerv1.Tie{Name: "vehicles/" + string(other) + "/ties/9", Person: "people/p2", Role: ownerv1.Role_ROLE_OWNER, StartDate: &date.Date{Year: 2020, Month: 1, Day: 1}})
	s.tellAssignment(access.Assignment{ID: "2", Vehicle: other, Organisation: "organisations/millbeck", Ground: access.Consent, ConsentedBy: "people/p2", Start: day("2026-01-01"), Last: day("2026-12-31")})
	s.tellAssignment(access.Assignment{ID: "3", Vehicle: former, Organisation: "organisations/ferncombe", Ground: access.Booking, Start: day("2026-01-01"), Last: day("2026-01-31")})
	for _, role := range []access.Role{access.Owner, access.Dealer} {
		type asked struct{ ours, tied, handler, lines int }
		ask := func(serial vehicle.Serial) (n asked) {
			has := s.gate.sees(callers[role], day("2026-11-25"))
			request := &accessv1.GetAssignmentRequest{Name: "vehicles/" + string(serial) + "/assignments/1"}
			name := s.gate.rules[accessv1.AccessService_GetAssignment_FullMethodName].names[0]
			name.theirs(request, callers[role], func(v vehicle.Serial) bool { n.ours++; return has(v) })
			s.gate.book.assigned(serial, callers[role].Organisation, day("2026-11-25"), func(string) bool { n.tied++; return false })
			s.book.clear()
			s.call(forwards(callers[role]), accessv1.AccessService_GetAssignment_FullMethodName, request, func(context.Context, any) (any, error) {
				n.handler++
				return nil, nil
			})
			n.lines = len(s.book.noted)
			return n
		}
		want := ask(missing)
		if want != (asked{ours: 1, lines: 1}) {
			t.Errorf("the role %s about what is not there: %+v", role, want)
		}
		for _, serial := range []vehicle.Serial{other, former} {
			if got := ask(serial); got != want {
				t.Errorf("the role %s about %s: asked %+v, about what is not there %+v", role, serial, got, want)
			}
		}
	}
}
