package accessgate

import (
	"context"
	"errors"
	"net"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

// handlers that end in the ways there are.
func commits(ctx context.Context, _ any) (any, error) {
	return &buildv1.Build{}, change(ctx, storeThat(nil), &buildv1.Build{})
}

func doesNothing(context.Context, any) (any, error) { return &buildv1.Build{}, nil }

func failsWith(err error) grpc.UnaryHandler {
	return func(context.Context, any) (any, error) { return nil, err }
}

func commitsAndThen(err error) grpc.UnaryHandler {
	return func(ctx context.Context, req any) (any, error) {
		if _, e := commits(ctx, req); e != nil {
			return nil, e
		}
		return nil, err
	}
}

func commitsInDoubt(ctx context.Context, _ any) (any, error) {
	return nil, change(ctx, storeThat(errors.New("the connection is gone")), &buildv1.Build{})
}

func commitsInDoubtAndThen(err error) grpc.UnaryHandler {
	return func(ctx context.Context, req any) (any, error) {
		commitsInDoubt(ctx, req)
		return nil, err
	}
}

func TestWhatCameOfACallIsInTheAudit(t *testing.T) {
	var (
		refusal = fault.New(fault.Aborted, "ETAG_MISMATCH", "changed meanwhile")
		missing = fault.New(fault.NotFound, "PERSON_NOT_FOUND", "no such person")
		broken  = fault.New(fault.Internal, "RECORD_DAMAGED", "a defect")
		theirs  = rpcerr.Status(t.Context(), nil, refusal).Err() // as another service says it
		stray   = status.Error(codes.NotFound, "not from us")
	)
	const (
		amend     = buildv1.BuildService_AmendBuild_FullMethodName
		getBuild  = buildv1.BuildService_GetBuild_FullMethodName
		getPerson = ownerv1.OwnerService_GetPerson_FullMethodName
		noteUses  = accessv1.AccessService_NoteKeyUses_FullMethodName
	)
	amendment := &buildv1.AmendBuildRequest{Build: &buildv1.Build{Name: "builds/am-0147 p"}, Reason: "the release was misread"}
	aBuild, aPerson := &buildv1.GetBuildRequest{Name: "builds/AM0147P"}, &ownerv1.GetPersonRequest{Name: "people/p1"}
	engineer := access.Caller{Role: access.Engineer, Bearer: "bench 2", Credential: "keys/00000000"}
	support := access.Caller{Role: access.Support, Bearer: "ida", Account: "accounts/ida", Credential: "sessions/1"}
	dealer := access.Caller{Role: access.Dealer, Bearer: "hal", Organisation: "organisations/ferncombe", Credential: "keys/00000001"}
	owner := access.Caller{Role: access.Owner, Bearer: "owner, by a link", Person: "people/p1", Credential: "link"}
	service := access.Caller{Role: access.Service, Bearer: "reminder", Credential: "process"}
	for _, c := range []struct {
		name    string
		caller  access.Caller
		method  string
		request proto.Message
		handler grpc.UnaryHandler
		witness bool   // a witness went with the call
		want    string // outcome and reason of the note; empty for none
	}{
		{"a change that was made", engineer, amend, amendment, commits, true, ""},
		{"a change of nothing", engineer, amend, amendment, doesNothing, true, "UNCHANGED"},
		{"a change that was refused", engineer, amend, amendment, failsWith(refusal), true, "REFUSED ETAG_MISMATCH"},
		{"a change that another service refused", engineer, amend, amendment, failsWith(theirs), true, "REFUSED ETAG_MISMATCH"},
		{"a change that failed", engineer, amend, amendment, failsWith(broken), true, "FAILED RECORD_DAMAGED"},
		{"a change that failed with what nobody classified", engineer, amend, amendment, failsWith(errors.New("x")), true, "FAILED INTERNAL"},
		{"a change that failed with a stray status", engineer, amend, amendment, failsWith(stray), true, "FAILED INTERNAL"},
		{"a change that was given up", engineer, amend, amendment, failsWith(context.Canceled), true, "FAILED CANCELED"},
		{"a change that was made in part and refused then", engineer, amend, amendment, commitsAndThen(refusal), true, "FAILED ETAG_MISMATCH"},
		{"a change of which nobody knows whether it was made", engineer, amend, amendment, commitsInDoubt, true, "FAILED OUTCOME_UNKNOWN"},
		{"a change that was refused after a try of which nobody knows", engineer, amend, amendment, commitsInDoubtAndThen(refusal), true, "FAILED ETAG_MISMATCH"},
		{"a change that the gate refused", support, amend, amendment, commits, false, "REFUSED ROLE_MAY_NOT"},
		{"a read of technical records", support, getBuild, aBuild, doesNothing, false, ""},
		{"a read of technical records by a dealer", dealer, getBuild, aBuild, doesNothing, false, ""},
		{"a read of what was never there", support, getBuild, aBuild, failsWith(missing), false, ""},
		{"a read that the method refused a dealer", dealer, getBuild, aBuild, failsWith(missing), false, "REFUSED PERSON_NOT_FOUND"},
		{"a read of another's vehicle", dealer, getBuild, &buildv1.GetBuildRequest{Name: "builds/" + string(mustSerial("AM0148"))}, doesNothing, false, "REFUSED BUILD_NOT_FOUND"},
		{"a read of a person by staff", support, getPerson, aPerson, doesNothing, false, "READ"},
		{"a read of a person who is not there", support, getPerson, aPerson, failsWith(missing), false, "REFUSED PERSON_NOT_FOUND"},
		{"a read of a person that failed", support, getPerson, aPerson, failsWith(broken), false, "FAILED RECORD_DAMAGED"},
		{"a read of oneself", owner, getPerson, aPerson, doesNothing, false, ""},
		{"a read of a person by a service for itself", service, getPerson, aPerson, doesNothing, false, ""},
		{"bookkeeping", service, noteUses, &accessv1.NoteKeyUsesRequest{}, commits, false, ""},
		{"bookkeeping by somebody else", support, noteUses, &accessv1.NoteKeyUsesRequest{}, commits, false, "REFUSED ROLE_MAY_NOT"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newScene(t)
			s.tellOrganisation(access.Organisation{ID: "ferncombe"})
			s.tellAccount(access.Account{ID: "ida", Role: access.Support})
			s.tellTie(tieOf("1", ownerv1.Role_ROLE_OWNER, &date.Date{Year: 2020, Month: 1, Day: 1}, nil))
			s.tellAssignment(access.Assignment{ID: "1", Vehicle: "AM0147P", Organisation: "organisations/ferncombe",
				Ground: access.ByWorks, Start: day("2026-01-01"), Last: day("2026-12-31")})
			s.call(forwards(c.caller), c.method, c.request, c.handler)
			if (len(s.book.witnessed) == 1) != c.witness || len(s.book.witnessed) > 1 {
				t.Errorf("witnesses: %+v", s.book.witnessed)
			}
			var got []string
			for _, l := range slices.Concat(s.book.witnessed, s.book.noted) {
				if l.Actor != c.caller.Bearer || l.Role != c.caller.Role || l.Credential != c.caller.Credential ||
					l.Through != ThisProcess.Bearer || l.Method != c.method || !l.Time.Equal(s.now) || l.Network != "" {
					t.Errorf("the line says %+v", l)
				}
			}
			for _, l := range s.book.noted {
				got = append(got, strings.TrimSpace(outcomeName(l.Outcome)+" "+l.ErrorReason))
			}
			if text := strings.Join(got, ", "); text != c.want {
				t.Errorf("noted %q, want %q", text, c.want)
			}
		})
	}
}

func outcomeName(o audit.Outcome) string {
	return [...]string{"", "CHANGED", "UNCHANGED", "READ", "REFUSED", "FAILED"}[o]
}

func TestALineSaysWhoDidWhatToWhatAndWhyAndNothingElse(t *testing.T) {
	s := newScene(t)
	k, secret := s.key(access.Key{Role: access.Engineer, Bearer: "bench 2"})
	request := &buildv1.AmendBuildRequest{Build: &buildv1.Build{Name: "builds/am-0147 p"}, Reason: "the release was misread", RequestId: "0190c5a2-7f3e-7b1d-9a44-000000000001"}
	if _, err := s.call(shows(secret), buildv1.BuildService_AmendBuild_FullMethodName, request, commits); err != nil {
		t.Fatal(err)
	}
	want := audit.Line{
		Time: s.now, Actor: "bench 2", Role: access.Engineer, Credential: k.Name(), Method: buildv1.BuildService_AmendBuild_FullMethodName,
		Objects: []string{"builds/AM0147P"}, Outcome: audit.Changed, Because: "the release was misread", Network: "192.0.2.17",
	}
	if diff := cmp.Diff([]audit.Line{want}, s.book.witnessed); diff != "" || len(s.book.noted) > 0 {
		t.Errorf("-want +got:\n%s\nnoted: %v", diff, s.book.noted)
	}
}

func TestOfSomebodyWeDoNotKnowALineSaysOnlyWhence(t *testing.T) {
	s := newScene(t)
	request := &ownerv1.GetPersonRequest{Name: "people/p1"}
	for _, secret := range []string{"", "hsk_00000000_" + strings.Repeat("0", 52)} {
		s.book.clear()
		s.call(shows(secret), ownerv1.OwnerService_GetPerson_FullMethodName, request, doesNothing)
		want := audit.Line{Time: s.now, Method: ownerv1.OwnerService_GetPerson_FullMethodName, Outcome: audit.Refused, ErrorReason: "KEY_MISSING", Network: "192.0.2.17"}
		if secret != "" {
			want.ErrorReason = "KEY_UNKNOWN"
		}
		if diff := cmp.Diff([]audit.Line{want}, s.book.noted); diff != "" {
			t.Errorf("-want +got:\n%s", diff)
		}
	}
}

func TestALineNamesTheNetworkAndOfIPv6TheHousehold(t *testing.T) {
	s := newScene(t)
	for from, want := range map[string]string{"192.0.2.17": "192.0.2.17", "2001:db8:1:2:3::4": "2001:db8:1:2::/64", "::ffff:192.0.2.9": "192.0.2.9"} {
		s.book.clear()
		ctx := peer.NewContext(t.Context(), &peer.Peer{Addr: &net.TCPAddr{IP: net.ParseIP(from)}})
		s.call(ctx, ownerv1.OwnerService_GetPerson_FullMethodName, &ownerv1.GetPersonRequest{}, doesNothing)
		if len(s.book.noted) != 1 || s.book.noted[0].Network != want {
			t.Errorf("%s: got %+v, want %s", from, s.book.noted, want)
		}
	}
}

func TestALineNamesThePartyOfOwnersAndDealers(t *testing.T) {
	s := newScene(t)
	s.tellOrganisation(access.Organisation{ID: "ferncombe"})
	for want, c := range map[string]access.Caller{
		"people/p1":               {Role: access.Owner, Bearer: "owner", Person: "people/p1"},
		"organisations/ferncombe": {Role: access.Dealer, Bearer: "hal", Organisation: "organisations/ferncombe"},
		"":                        {Role: access.Support, Bearer: "desk"},
	} {
		s.book.clear()
		s.call(forwards(c), buildv1.BuildService_StageImport_FullMethodName, &buildv1.StageImportRequest{}, doesNothing)
		if len(s.book.noted) != 1 || s.book.noted[0].Party != want {
			t.Errorf("%v: got %+v, want the party %q", c, s.book.noted, want)
		}
	}
}

// watching is a stream that receives one request and sends nothing.
type watching struct {
	grpc.ServerStream
	ctx context.Context
}

func (w watching) Context() context.Context { return w.ctx }
func (w watching) RecvMsg(any) error        { return nil }
func (w watching) SendMsg(any) error        { return nil }

func TestAStreamIsInTheAuditAsAnyCall(t *testing.T) {
	for _, c := range []struct {
		name string
		role access.Role
		err  error
		want []string
	}{
		{"a service follows, which reads", access.Service, nil, nil},
		{"anybody else is turned away", access.Support, nil, []string{"REFUSED ROLE_MAY_NOT"}},
		{"a service whose method refuses it", access.Service, fault.New(fault.Denied, "NOT_SO", "no"), []string{"REFUSED NOT_SO"}},
	} {
		s := newScene(t)
		ss := watching{ctx: forwards(access.Caller{Role: c.role, Bearer: "x"})}
		s.gate.Stream()(nil, ss, &grpc.StreamServerInfo{FullMethod: ownerv1.OwnerService_WatchTies_FullMethodName}, func(_ any, ss grpc.ServerStream) error {
			if err := ss.RecvMsg(&ownerv1.WatchTiesRequest{}); err != nil {
				return err
			}
			return c.err
		})
		var got []string
		for _, l := range s.book.noted {
			got = append(got, outcomeName(l.Outcome)+" "+l.ErrorReason)
		}
		if !slices.Equal(got, c.want) || len(s.book.witnessed) > 0 {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

func TestOnlyNamesOfThingsAreObjects(t *testing.T) {
	for text, want := range map[string]string{
		"builds/AM0147P":                        "builds/AM0147P",
		"builds/am 0147 p":                      "builds/AM0147P",
		"vehicles/am-0147-p/readings/0192f0":    "vehicles/AM0147P/readings/0192f0",
		"vehicles/AM0147P/":                     "vehicles/AM0147P",
		"people/p0031":                          "people/p0031",
		"keys/0123abcd":                         "keys/0123abcd",
		"programmes/packhorse/versions/2":       "programmes/packhorse/versions/2",
		"vehicles/-":                            "",
		"vehicles/AM0147Q":                      "",
		"builds/":                               "",
		"":                                      "",
		"Ada Nettlefold":                        "",
		"people/ada@nettlefold.example":         "",
		"people/+441632960123":                  "",
		"people/Ada Nettlefold":                 "",
		"people//p1":                            "",
		"people":                                "",
		"parts/" + strings.Repeat("x", maxName): "",
	} {
		got, ok := objectNamed(text)
		if ok != (want != "") || ok && got != want {
			t.Errorf("%q: got %q, %v; want %q", text, got, ok, want)
		}
	}
}

func FuzzObjectName(f *testing.F) {
	for _, seed := range []string{"builds/am 0147 p", "vehicles/AM0147P/ties/1", "people/p1", "a/b/../c", "builds//", "/"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		name, ok := objectNamed(text)
		if !ok {
			return
		}
		if again, ok := objectNamed(name); !ok || again != name {
			t.Errorf("%q is %q, which is %q, %v", text, name, again, ok)
		}
		if strings.ContainsAny(name, " @+,\n\x00") || len(name) > maxName {
			t.Errorf("%q is the object %q", text, name)
		}
	})
}

// The words of Because are kept for ever, beside the technical record.
func TestWhySomethingWasDoneIsNeverAPersonalField(t *testing.T) {
	s := newScene(t)
	said := 0
	for method, r := range s.gate.rules {
		for _, f := range r.because {
			said++
			if p, ok := proto.GetExtension(f.Options(), privacyv1.E_Personal).(*privacyv1.Personal); ok && p.GetCategory() != privacyv1.Category_CATEGORY_UNSPECIFIED {
				t.Errorf("%s: the history repeats %s, which is personal (%v)", method, f.FullName(), p.GetCategory())
			}
		}
	}
	if said < 7 {
		t.Errorf("%d fields say why, want at least 7", said)
	}
	for method, r := range s.gate.rules {
		if (r.because != nil) != (r.Because != "") || r.Because != "" && !access.Changes(method) {
			t.Errorf("%s: %q says why and nothing is changed, or is not looked up", method, r.Because)
		}
	}
}

func TestEveryChangeThatNamesSomethingHasItInTheAudit(t *testing.T) {
	s := newScene(t)
	for method, r := range s.gate.rules {
		for _, n := range r.names {
			if !slices.ContainsFunc(r.objects, func(p []protoreflect.FieldDescriptor) bool { return slices.Equal(p, n.path) }) {
				t.Errorf("%s: %s is not in the audit", method, n.Field)
			}
		}
	}
	for request, want := range map[proto.Message]string{
		&accessv1.RevokeKeyRequest{Name: "keys/0123abcd"}:                                                              "keys/0123abcd",
		&accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{Name: "organisations/ferncombe"}}:     "organisations/ferncombe",
		&ownerv1.CreateTieRequest{Parent: "vehicles/am0147p", Tie: &ownerv1.Tie{Person: "people/p1", Name: "nothing"}}: "people/p1, vehicles/AM0147P",
		&ownerv1.UpdatePersonRequest{Person: &ownerv1.Person{Name: "people/p1"}}:                                       "people/p1",
	} {
		name := strings.TrimSuffix(string(request.ProtoReflect().Descriptor().Name()), "Request")
		for method, r := range s.gate.rules {
			if strings.HasSuffix(method, "/"+name) {
				if got := strings.Join(slices.Sorted(slices.Values(r.objectsOf(request))), ", "); got != want {
					t.Errorf("%s: got %q, want %q", name, got, want)
				}
			}
		}
	}
}

func TestWithoutARecorderNothingIsRecordedAndAllWorks(t *testing.T) {
	s := newScene(t)
	s.gate.recorder = nil
	request := &buildv1.AmendBuildRequest{Build: &buildv1.Build{Name: "builds/AM0147P"}}
	if _, err := s.call(forwards(access.Caller{Role: access.Engineer, Bearer: "x"}), buildv1.BuildService_AmendBuild_FullMethodName, request, commits); err != nil {
		t.Error(err)
	}
	if _, err := s.call(forwards(access.Caller{Role: access.Owner, Bearer: "x"}), buildv1.BuildService_AmendBuild_FullMethodName, request, commits); !fault.Is(err, fault.Denied) {
		t.Error(err)
	}
}

// Pages call in their own name for somebody whom they learn of by a secret.
func TestALineNamesForWhomAServiceFoundThatItCalls(t *testing.T) {
	desk := access.Caller{Role: access.Service, Bearer: "desk", Credential: "process"}
	ida := audit.Principal{Actor: "ida", Role: access.Dealer, Credential: "sessions/1", Party: "organisations/ferncombe", Network: "192.0.2.17"}
	request := &accessv1.ChangePasswordRequest{Account: "accounts/ida"}
	for name, c := range map[string]struct {
		caller  access.Caller
		handler grpc.UnaryHandler
		outcome audit.Outcome
		want    string // actor and through
	}{
		"a change":                  {desk, commits, audit.Changed, "ida desk"},
		"a change of nothing":       {desk, doesNothing, audit.Unchanged, "ida desk"},
		"a change that was refused": {desk, failsWith(fault.New(fault.Invalid, "WRONG", "wrong")), audit.Refused, "ida desk"},
	} {
		s := newScene(t)
		s.call(forwards(c.caller), accessv1.SignInService_ChangePassword_FullMethodName, request, func(ctx context.Context, req any) (any, error) {
			return c.handler(audit.OnBehalf(ctx, ida), req)
		})
		lines := s.book.noted
		if c.outcome == audit.Changed {
			lines = append(lines, s.book.witnessed[len(s.book.witnessed)-1])
		}
		if len(lines) != 1 {
			t.Errorf("%s: noted %+v", name, lines)
			continue
		}
		l := lines[0]
		if got := l.Actor + " " + l.Through; got != c.want || l.Role != access.Dealer || l.Credential != "sessions/1" || l.Outcome != c.outcome ||
			l.Party != "organisations/ferncombe" || l.Network != "192.0.2.17" || !slices.Equal(l.Objects, []string{"accounts/ida"}) {
			t.Errorf("%s: got %+v", name, l)
		}
	}
	// Nobody else can say that they are another.
	s := newScene(t)
	s.tellAccount(access.Account{ID: "bert", Role: access.Administrator})
	bert := access.Caller{Role: access.Administrator, Bearer: "bert", Account: "accounts/bert", Credential: "sessions/2"}
	s.call(forwards(bert), accessv1.SignInService_EndSessions_FullMethodName, &accessv1.EndSessionsRequest{Account: "accounts/ida"}, func(ctx context.Context, req any) (any, error) {
		return commits(audit.OnBehalf(ctx, ida), req)
	})
	if len(s.book.witnessed) != 1 || s.book.witnessed[0].Actor != "bert" {
		t.Errorf("got %+v", s.book.witnessed)
	}
}

// What a change makes has no name in its request, and what it changes of a
// record is not in its method.
func TestALineNamesWhatAChangeMakesAndWhichFieldsItChanges(t *testing.T) {
	ida := access.Caller{Role: access.Administrator, Bearer: "ida"}
	for name, c := range map[string]struct {
		method  string
		request any
		detail  audit.Detail
		objects []string
		fields  []string
	}{
		"a key": {accessv1.AccessService_CreateKey_FullMethodName, &accessv1.CreateKeyRequest{},
			audit.Detail{Objects: []string{"keys/1s56eezg"}}, []string{"keys/1s56eezg"}, nil},
		"a key in place of another": {accessv1.AccessService_RotateKey_FullMethodName, &accessv1.RotateKeyRequest{Name: "keys/1s56eezg"},
			audit.Detail{Objects: []string{"keys/c2n6kzle"}}, []string{"keys/1s56eezg", "keys/c2n6kzle"}, nil},
		"the closing of an account": {accessv1.AccessService_UpdateAccount_FullMethodName, &accessv1.UpdateAccountRequest{Account: &accessv1.Account{Name: "accounts/sue"}},
			audit.Detail{Fields: []string{"closed"}}, []string{"accounts/sue"}, []string{"closed"}},
	} {
		for ending, effect := range map[string]grpc.UnaryHandler{"changed": commits, "unchanged": doesNothing} {
			s := newScene(t)
			s.call(forwards(ida), c.method, c.request, func(ctx context.Context, req any) (any, error) {
				return effect(audit.Changing(ctx, c.detail), req)
			})
			lines := s.book.noted
			if ending == "changed" {
				lines = s.book.witnessed[len(s.book.witnessed)-1:]
			}
			if len(lines) != 1 || !slices.Equal(lines[0].Objects, c.objects) || !slices.Equal(lines[0].Fields, c.fields) || lines[0].Outcome.String() != ending {
				t.Errorf("%s, %s: got %+v", name, ending, lines)
			}
		}
	}
}
