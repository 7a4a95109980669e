package accessgate

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// sequences is how many random histories a run lives, each of so many steps.
const (
	sequences = 10_000
	steps     = 60
)

// The second implementation: facts in lists, read anew for each question. Days
// are numbers from dayZero.

var dayZero = vehicle.DateOf(time.Date(2026, time.November, 1, 0, 0, 0, 0, time.UTC))

type plainTie struct {
	vehicle, person string
	rights          bool // not a payer's
	from, until     int  // until no longer counts; 0: it lasts
}

type plainAssignment struct {
	vehicle, organisation, consentOf string
	from, last                       int
	ended                            bool
}

type plainKey struct {
	role, person, organisation, account, scope string
	revoked                                    bool
	ends                                       int // day on whose noon it ends; 0: never
	secret                                     string
	key                                        access.Key
}

type plainAccount struct {
	role, organisation string
	closed             bool
}

// world is what happened, twice: in the facts here, and as told to the gate.
type world struct {
	*scene
	r           *rand.Rand
	today       int
	ties        []plainTie
	assignments []plainAssignment
	keys        []plainKey
	accounts    map[string]plainAccount
	closed      map[string]bool // organisations
}

var (
	cars   = []string{"AM0301", "AM0302", "AM0303"}
	folk   = []string{"people/p1", "people/p2", "people/p3"}
	firms  = []string{"organisations/ferncombe", "organisations/millbeck"}
	absent = "AM0999"
)

func sayDay(n int) vehicle.Date { return dayZero.AddDays(n) }

func pick[T any](r *rand.Rand, of []T) T { return of[r.IntN(len(of))] }

// begin forgets everything and makes the people of a new history.
func (w *world) begin(seed uint64) {
	w.r, w.today = rand.New(rand.NewPCG(seed, 6)), 10
	w.ties, w.assignments, w.keys, w.made = nil, nil, nil, 0
	w.closed = map[string]bool{}
	w.now = time.Date(2026, time.November, 11, 12, 0, 0, 0, time.UTC)
	w.gate.keys.restart()
	w.must(w.gate.keys.apply(&accessv1.WatchKeysResponse{Synced: true}))
	w.gate.ties.restart()
	w.must(w.gate.ties.apply(&ownerv1.WatchTiesResponse{Synced: true}))
	w.gate.book.restart()
	w.must(w.gate.book.apply(&accessv1.WatchDoorResponse{Synced: true}))
	w.book.clear()
	for _, f := range firms {
		w.tellOrganisation(access.Organisation{ID: strings.TrimPrefix(f, "organisations/")})
	}
	w.accounts = map[string]plainAccount{}
	w.setAccount("accounts/ida", plainAccount{role: "support"})
	w.setAccount("accounts/hal", plainAccount{role: "dealer", organisation: firms[0]})
	for _, k := range []plainKey{
		{role: "owner", person: folk[0]}, {role: "owner", person: folk[1]},
		{role: "dealer", organisation: firms[0]}, {role: "dealer", organisation: firms[1]},
		{role: "dealer", organisation: firms[0], account: "accounts/hal"},
		{role: "support"}, {role: "support", account: "accounts/ida"}, {role: "engineer"},
		{role: "administrator"}, {role: "support", scope: "build.read"}, {role: "dealer", organisation: firms[0], scope: "schedule"},
	} {
		w.addKey(k)
	}
	for i, c := range cars {
		w.addTie(plainTie{vehicle: c, person: folk[i%len(folk)], rights: true, from: 1})
	}
}

func (w *world) setAccount(name string, a plainAccount) {
	w.accounts[name] = a
	told := access.Account{ID: strings.TrimPrefix(name, "accounts/"), Role: roleNamed(a.role), Organisation: a.organisation}
	if a.closed {
		told.Closed = w.now
	}
	w.tellAccount(told)
}

func roleNamed(name string) access.Role {
	r, err := access.ParseRole(name)
	if err != nil {
		panic(err)
	}
	return r
}

func (w *world) addKey(k plainKey) {
	var scopes []string
	if k.scope != "" {
		scopes = []string{k.scope}
	}
	k.key, k.secret = w.key(access.Key{Role: roleNamed(k.role), Bearer: "b", Person: k.person, Organisation: k.organisation, Account: k.account, Scopes: scopes})
	w.keys = append(w.keys, k)
}

func (w *world) addTie(t plainTie) {
	w.ties = append(w.ties, t)
	w.sayTie(len(w.ties) - 1)
}

func (w *world) sayTie(i int) {
	t := w.ties[i]
	p := &ownerv1.Tie{
		Name: fmt.Sprintf("vehicles/%s/ties/%d", mustSerial(t.vehicle), i), Person: t.person, Role: ownerv1.Role_ROLE_PAYER,
		StartDate: vehiclewire.DateProto(sayDay(t.from)),
	}
	if t.rights {
		p.Role = []ownerv1.Role{ownerv1.Role_ROLE_OWNER, ownerv1.Role_ROLE_CARETAKER, ownerv1.Role_ROLE_EXECUTOR}[i%3]
	}
	if t.until != 0 {
		p.EndDate = vehiclewire.DateProto(sayDay(t.until))
	}
	w.tellTie(p)
}

func (w *world) sayAssignment(i int) {
	a := w.assignments[i]
	told := access.Assignment{
		ID: fmt.Sprint(i), Vehicle: mustSerial(a.vehicle), Organisation: a.organisation, Ground: access.Booking,
		Start: sayDay(a.from), Last: sayDay(a.last),
	}
	if i%2 == 0 {
		told.Ground = access.ByWorks
	}
	if a.consentOf != "" {
		told.Ground, told.ConsentedBy = access.Consent, a.consentOf
	}
	if a.ended {
		told.End.Time = w.now
	}
	w.tellAssignment(told)
}

// happen lets something happen.
func (w *world) happen() {
	switch r := w.r; r.IntN(12) {
	case 0, 1: // a transfer: whoever owned it does no more, and somebody else does
		car, buyer := pick(r, cars), pick(r, folk)
		for i, t := range w.ties {
			if t.vehicle == car && t.rights && (t.until == 0 || t.until > w.today) {
				w.ties[i].until = w.today
				w.sayTie(i)
			}
		}
		w.addTie(plainTie{vehicle: car, person: buyer, rights: true, from: w.today})
	case 2:
		w.addTie(plainTie{vehicle: pick(r, cars), person: pick(r, folk), rights: r.IntN(3) > 0, from: w.today + r.IntN(5) - 2})
	case 3:
		i := r.IntN(len(w.ties))
		w.ties[i].until = w.today + r.IntN(3)
		w.sayTie(i)
	case 4, 5, 6:
		a := plainAssignment{vehicle: pick(r, cars), organisation: pick(r, firms), from: w.today + r.IntN(4) - 2}
		a.last = a.from + r.IntN(5)
		if r.IntN(2) == 0 {
			a.consentOf = pick(r, folk)
		}
		w.assignments = append(w.assignments, a)
		w.sayAssignment(len(w.assignments) - 1)
	case 7:
		if len(w.assignments) > 0 {
			i := r.IntN(len(w.assignments))
			w.assignments[i].ended = true
			w.sayAssignment(i)
		}
	case 8:
		w.closeSomething()
	case 9:
		w.endKey()
	default:
		n := 1 + r.IntN(2)
		w.today += n
		w.now = w.now.AddDate(0, 0, n)
	}
}

func (w *world) closeSomething() {
	if w.r.IntN(2) == 0 {
		f := pick(w.r, firms)
		w.closed[f] = !w.closed[f]
		told := access.Organisation{ID: strings.TrimPrefix(f, "organisations/")}
		if w.closed[f] {
			told.Closed = w.now
		}
		w.tellOrganisation(told)
		return
	}
	name := pick(w.r, []string{"accounts/ida", "accounts/hal"})
	a := w.accounts[name]
	switch {
	case w.r.IntN(3) > 0:
		a.closed = !a.closed
	case name == "accounts/ida":
		a.role = pick(w.r, []string{"support", "engineer"})
	default:
		a.organisation = pick(w.r, firms)
	}
	w.setAccount(name, a)
}

// endKey revokes a key, lets it expire on a day, or makes another in its place.
func (w *world) endKey() {
	i := w.r.IntN(len(w.keys))
	k := &w.keys[i]
	switch w.r.IntN(3) {
	case 0:
		k.revoked, k.key.Revoked = true, w.now
	case 1:
		k.ends = w.today + w.r.IntN(3)
		k.key.Expires = w.now.AddDate(0, 0, k.ends-w.today)
	case 2:
		next := *k
		k.ends = w.today + 1
		k.key.Expires = w.now.AddDate(0, 0, 1)
		w.tellKey(k.key)
		next.revoked, next.ends = false, 0
		w.addKey(next)
		return
	}
	w.tellKey(k.key)
}

// tied and seen are the rules of ties and assignments, as one would say them.
func (w *world) tied(person, car string) bool {
	return slices.ContainsFunc(w.ties, func(t plainTie) bool {
		return t.vehicle == car && t.person == person && t.rights && t.from <= w.today && (t.until == 0 || w.today < t.until)
	})
}

func (w *world) assigned(firm, car string) bool {
	return slices.ContainsFunc(w.assignments, func(a plainAssignment) bool {
		return a.vehicle == car && a.organisation == firm && !a.ended && a.from <= w.today && w.today <= a.last &&
			!w.closed[firm] && (a.consentOf == "" || w.tied(a.consentOf, car))
	})
}

// ask is one kind of call: who may, by the brief and not by the table, and
// what the request is about.
type ask struct {
	method, about string // "car", "person", "firm", "all" or ""
	roles         string
	scopes        string // those that hold it, of the scopes here
	request       func(name string) proto.Message
}

var asks = []ask{
	{buildv1.BuildService_GetBuild_FullMethodName, "car", "owner dealer support engineer administrator", "build.read",
		func(n string) proto.Message { return &buildv1.GetBuildRequest{Name: "builds/" + n} }},
	{buildv1.BuildService_AmendBuild_FullMethodName, "car", "engineer administrator", "",
		func(n string) proto.Message {
			return &buildv1.AmendBuildRequest{Build: &buildv1.Build{Name: "builds/" + n}}
		}},
	{schedulev1.ScheduleService_GetSchedule_FullMethodName, "car", "owner dealer support engineer administrator", "schedule",
		func(n string) proto.Message {
			return &schedulev1.GetScheduleRequest{Name: "vehicles/" + n + "/schedule"}
		}},
	{schedulev1.ScheduleService_RecordReading_FullMethodName, "car", "owner dealer support engineer administrator", "schedule",
		func(n string) proto.Message { return &schedulev1.RecordReadingRequest{Parent: "vehicles/" + n} }},
	{schedulev1.ScheduleService_ListDue_FullMethodName, "", "support engineer administrator", "schedule",
		func(string) proto.Message { return &schedulev1.ListDueRequest{} }},
	{ownerv1.OwnerService_GetPerson_FullMethodName, "person", "owner support administrator", "",
		func(n string) proto.Message { return &ownerv1.GetPersonRequest{Name: n} }},
	{ownerv1.OwnerService_ListTies_FullMethodName, "all", "owner support engineer administrator", "",
		func(string) proto.Message { return &ownerv1.ListTiesRequest{Parent: "vehicles/-"} }},
	{accessv1.AccessService_ListAssignments_FullMethodName, "all", "owner dealer support engineer administrator", "",
		func(string) proto.Message { return &accessv1.ListAssignmentsRequest{Parent: "vehicles/-"} }},
	{accessv1.AccessService_GetOrganisation_FullMethodName, "firm", "dealer support engineer administrator", "",
		func(n string) proto.Message { return &accessv1.GetOrganisationRequest{Name: n} }},
	{accessv1.AccessService_WhoAmI_FullMethodName, "", "owner dealer support engineer administrator", "build.read schedule",
		func(string) proto.Message { return &accessv1.WhoAmIRequest{} }},
}

// expected is what a call comes to: the reason of its refusal, or "in".
func (w *world) expected(k plainKey, byKey bool, a ask, name string) string {
	account := w.accounts[k.account]
	switch {
	case byKey && k.revoked:
		return "KEY_REVOKED"
	case byKey && k.ends != 0 && w.today >= k.ends:
		return "KEY_EXPIRED"
	case k.account != "" && account.closed:
		return "ACCOUNT_CLOSED"
	case k.account != "" && (account.role != k.role || account.organisation != k.organisation):
		return "ACCOUNT_CHANGED"
	case k.organisation != "" && w.closed[k.organisation]:
		return "ORGANISATION_CLOSED"
	case !slices.Contains(strings.Fields(a.roles), k.role):
		return "ROLE_MAY_NOT"
	case byKey && k.scope != "" && !slices.Contains(strings.Fields(a.scopes), k.scope):
		return "SCOPE_MAY_NOT"
	case k.role != "owner" && k.role != "dealer":
		return "in"
	}
	switch car := name; {
	case a.about == "car" && k.role == "owner" && !w.tied(k.person, car), a.about == "car" && k.role == "dealer" && !w.assigned(k.organisation, car):
		return "BUILD_NOT_FOUND"
	case a.about == "person" && name != k.person:
		return "PERSON_NOT_FOUND"
	case a.about == "firm" && name != k.organisation:
		return "ORGANISATION_NOT_FOUND"
	}
	return "in"
}

// try calls as somebody and compares; it gives what was expected.
func (w *world) try() (string, error) {
	k, a := pick(w.r, w.keys), pick(w.r, asks)
	name, spoken := "", ""
	switch a.about {
	case "car":
		name = pick(w.r, append(cars, absent))
		spoken = string(mustSerial(name))
	case "person":
		name = pick(w.r, append(folk, "people/p9"))
		spoken = name
	case "firm":
		name = pick(w.r, append(firms, "organisations/nowhere"))
		spoken = name
	}
	byKey := w.r.IntN(2) == 0
	ctx := shows(k.secret)
	if !byKey { // a service speaks for them, as pages do
		ctx = forwards(access.Caller{Role: k.key.Role, Bearer: "b", Person: k.person, Organisation: k.organisation, Account: k.account, Credential: "sessions/1"})
	}
	reached := false
	_, err := w.call(ctx, a.method, a.request(spoken), func(context.Context, any) (any, error) {
		reached = true
		return &accessv1.WhoAmIResponse{}, nil
	})
	got := "in"
	var f *fault.Error
	if errors.As(err, &f) {
		got = f.Reason
	}
	want := w.expected(k, byKey, a, name)
	if got != want || reached != (want == "in") {
		return want, fmt.Errorf("on day %d, %+v (by key: %v) calls %s about %q: got %s (reached %v), want %s\nties %+v\nassignments %+v\nclosed %v, accounts %+v",
			w.today, k, byKey, a.method, name, got, reached, want, w.ties, w.assignments, w.closed, w.accounts)
	}
	return want, nil
}

func TestRandomHistoriesOfTiesAssignmentsAccountsAndKeys(t *testing.T) {
	w := &world{scene: newScene(t)}
	calls, came := 0, map[string]int{}
	for seed := range uint64(sequences) {
		w.begin(seed)
		for range steps {
			if w.r.IntN(3) == 0 {
				w.happen()
				continue
			}
			want, err := w.try()
			if err != nil {
				t.Fatalf("history %d: %v", seed, err)
			}
			calls++
			came[want]++
		}
	}
	t.Logf("%d histories of %d steps, %d calls: %v", sequences, steps, calls, came)
	for _, reason := range []string{
		"in", "KEY_REVOKED", "KEY_EXPIRED", "ACCOUNT_CLOSED", "ACCOUNT_CHANGED", "ORGANISATION_CLOSED",
		"ROLE_MAY_NOT", "SCOPE_MAY_NOT", "BUILD_NOT_FOUND", "PERSON_NOT_FOUND", "ORGANISATION_NOT_FOUND",
	} {
		if came[reason] < 100 {
			t.Errorf("%s came %d times: the histories do not try it", reason, came[reason])
		}
	}
}
