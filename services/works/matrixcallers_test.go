package works_test

import (
	"maps"
	"strings"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/testdata/aldermoor"
)

// caller is somebody who calls, and what stands in which relation to them.
type caller struct {
	name   string
	letter string // in ask.may; empty where the key opens nothing
	scopes []string
	about  []relation // what it asks about
	own    []string   // letters of the vehicles that are theirs, for a limited caller
	had    []string   // and of those that were
	person string     // who they are, for an owner
}

// relation is an object and what it is to the caller: "own", "assigned",
// "other", "former", "missing".
type relation struct {
	name, letter string
	// mixed is for requests that name both a vehicle and a person: whose person
	// goes with the vehicle of the letter.
	mixed string
	like  string // the relation whose refusal reads the same; "missing" when empty
}

// limited says that the caller sees only what is theirs.
func (c caller) limited() bool { return c.letter == "o" || c.letter == "d" }

// theirs says whether a relation lets a limited caller in.
func (r relation) theirs() bool {
	return strings.HasPrefix(r.name, "own") || strings.HasPrefix(r.name, "assigned")
}

// populate fills the world with what the matrix is about.
func (w *world) populate() {
	for _, who := range []string{"owner", "second", "third", "seller"} {
		w.person(who)
	}
	admin := w.as("administrator")
	for _, id := range []string{"ferncombe", "saltmarket", "thornbury", "closed"} {
		got(admin.Access.CreateOrganisation(w.ctx, &accessv1.CreateOrganisationRequest{RequestId: uuid.NewString(),
			Organisation: &accessv1.Organisation{Name: "organisations/" + id, Title: "Garage of " + id}}))(w.t)
		w.key("dealer-"+id, &accessv1.Key{Role: accessv1.Role_ROLE_DEALER, Organisation: "organisations/" + id})
	}
	got(admin.Access.CreateAccount(w.ctx, &accessv1.CreateAccountRequest{RequestId: uuid.NewString(),
		Account: &accessv1.Account{Name: "accounts/ida", FullName: "Ida Brackenbury", Role: accessv1.Role_ROLE_SUPPORT}}))(w.t)
	w.key("scoped-support", &accessv1.Key{Role: accessv1.Role_ROLE_SUPPORT, Scopes: []string{"parts.read"}})
	w.key("scoped-dealer", &accessv1.Key{Role: accessv1.Role_ROLE_DEALER, Organisation: "organisations/ferncombe", Scopes: []string{"schedule.read"}})
	w.key("expired", &accessv1.Key{Role: accessv1.Role_ROLE_ADMINISTRATOR, ExpireTime: timestamppb.New(w.clock.Now().Add(time.Hour))})
	revoked := w.key("revoked", &accessv1.Key{Role: accessv1.Role_ROLE_ADMINISTRATOR})
	got(admin.Access.RevokeKey(w.ctx, &accessv1.RevokeKeyRequest{Name: revoked.GetName(), RequestId: uuid.NewString()}))(w.t)

	w.promised()
	w.owned("A", "AM0301", "owner")  // the owner's own
	w.owned("B", "AM0302", "third")  // assigned to ferncombe by the works
	w.owned("C", "AM0303", "second") // another's, assigned to saltmarket
	w.owned("D", "AM0304", "owner")  // the owner's until today, now the second's
	w.owned("F", "AM0305", "third")  // assigned to ferncombe, over since yesterday
	w.owned("G", "AM0306", "seller") // assigned to ferncombe by an owner who sold it
	w.owned("H", "AM0307", "third")  // assigned to ferncombe by its owner's consent
	w.owned("K", "AM0308", "third")  // assigned to ferncombe by a booking
	w.owned("L", "AM0309", "third")  // assigned to ferncombe, ended
	w.move("C", "A")                 // what stands on one came from another
	w.move("F", "B")
	w.people["nobody"] = "people/p8999"
	w.serials["E"] = w.serial("AM0990")
	w.on["E"] = map[string]string{"serial": w.serials["E"], "person": "people/p8999", "who": "nobody"}

	byWorks := func() *accessv1.Assignment {
		return &accessv1.Assignment{Ground: accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS}
	}
	over := byWorks()
	over.StartDate, over.LastDate = dayProto(aldermoor.Today), dayProto(aldermoor.Today)
	w.assigned("support", "F", "ferncombe", over)
	w.assigned("seller", "G", "ferncombe", &accessv1.Assignment{})
	w.assigned("third", "H", "ferncombe", &accessv1.Assignment{})
	w.assigned("support", "L", "ferncombe", byWorks())
	w.assigned("owner", "D", "thornbury", &accessv1.Assignment{})
	got(w.as("dealer-ferncombe").Access.EndAssignment(w.ctx, &accessv1.EndAssignmentRequest{RequestId: uuid.NewString(), Complete: true, Reason: "back with its owner",
		Name: "vehicles/" + w.serials["L"] + "/assignments/" + w.on["L"]["assignment"]}))(w.t)
	w.sold("D", "second")
	w.sold("G", "second")

	w.clock.Move(24 * time.Hour)
	w.assigned("support", "B", "ferncombe", byWorks())
	w.assigned("support", "K", "ferncombe", &accessv1.Assignment{Ground: accessv1.AssignmentGround_ASSIGNMENT_GROUND_BOOKING})
	w.assigned("support", "C", "saltmarket", byWorks())
	w.assigned("support", "D", "saltmarket", byWorks()) // beside the one of who sold it
	w.assigned("support", "A", "closed", byWorks())
	closed := got(admin.Access.GetOrganisation(w.ctx, &accessv1.GetOrganisationRequest{Name: "organisations/closed"}))(w.t)
	got(admin.Access.UpdateOrganisation(w.ctx, &accessv1.UpdateOrganisationRequest{Organisation: closed, Closed: true, RequestId: uuid.NewString()}))(w.t)
	for _, letter := range []string{"A", "B", "C", "D", "F", "G", "H", "K", "L"} {
		w.offered(letter)
	}
	for letter := range w.serials {
		if letter != "E" {
			w.outOfService(letter)
			w.claimed(letter, w.as("support"))
		}
	}
	w.campaigned()
	// A dealer's own records, and another's beside them.
	for letter, dealer := range map[string]string{"B": "ferncombe", "H": "ferncombe", "K": "ferncombe", "C": "saltmarket"} {
		e := got(w.as("dealer-"+dealer).Schedules.RecordService(w.ctx, &schedulev1.RecordServiceRequest{Parent: "vehicles/" + w.serials[letter], RequestId: uuid.NewString(),
			ServiceEntry: &schedulev1.ServiceEntry{Note: "the dealer's", Items: []*schedulev1.ItemDone{{ItemId: "E01"}}}}))(w.t)
		w.on[letter]["dealer_entry"] = last(e.GetName())
		w.claimed(letter, w.as("dealer-"+dealer))
	}
}

// move takes a component of one vehicle to another.
func (w *world) move(from, to string) {
	w.t.Helper()
	got(w.as("engineer").Builds.MoveComponent(w.ctx, &buildv1.MoveComponentRequest{
		Source: "builds/" + w.serials[from], SourcePosition: "gearbox", Destination: "builds/" + w.serials[to], DestinationPosition: "gearbox",
		MoveDate: dayProto(aldermoor.Today.AddDays(-1)), Reason: "to try it", RequestId: uuid.NewString()}))(w.t)
}

// callers are everybody who calls.
func (w *world) callers() []caller {
	staff := []relation{{name: "any", letter: "A"}, {name: "former", letter: "D"}, {name: "missing", letter: "E"}}
	return []caller{
		{name: "nobody", letter: "n", about: staff[:1]},
		{name: "revoked", about: staff[:1]},
		{name: "expired", about: staff[:1]},
		{name: "dealer-closed", about: staff[:1]},
		{name: "owner", letter: "o", person: "owner", own: []string{"A"}, had: []string{"D"}, about: []relation{
			{name: "own", letter: "A"}, {name: "other", letter: "C"}, {name: "former", letter: "D"}, {name: "missing", letter: "E"},
			{name: "another's person", letter: "A", mixed: "second", like: "nobody's person"}, {name: "nobody's person", letter: "A", mixed: "nobody"},
			{name: "themselves with another's", letter: "C", mixed: "owner", like: "themselves with none"}, {name: "themselves with none", letter: "E", mixed: "owner"}}},
		{name: "second", letter: "o", person: "second", own: []string{"C", "D", "G"}, about: []relation{{name: "own", letter: "C"}, {name: "own, once another's", letter: "D"}, {name: "other", letter: "A"}, {name: "missing", letter: "E"}}},
		{name: "seller", letter: "o", person: "seller", had: []string{"G"}, about: []relation{{name: "other", letter: "A"}, {name: "former", letter: "G"}, {name: "missing", letter: "E"}}},
		{name: "dealer-ferncombe", letter: "d", own: []string{"B", "H", "K"}, about: []relation{
			{name: "assigned by the works", letter: "B"}, {name: "assigned by consent", letter: "H"}, {name: "assigned by a booking", letter: "K"},
			{name: "other", letter: "C"}, {name: "ended", letter: "L"}, {name: "expired", letter: "F"}, {name: "consented by who sold it", letter: "G"}, {name: "missing", letter: "E"}}},
		{name: "dealer-saltmarket", letter: "d", own: []string{"C", "D"}, about: []relation{{name: "assigned by the works", letter: "C"}, {name: "other", letter: "B"}, {name: "missing", letter: "E"}}},
		{name: "dealer-thornbury", letter: "d", about: []relation{{name: "other", letter: "B"}, {name: "consented by who sold it", letter: "D"}, {name: "missing", letter: "E"}}},
		{name: "scoped-dealer", letter: "d", scopes: []string{"schedule.read"}, own: []string{"B", "H", "K"},
			about: []relation{{name: "assigned by the works", letter: "B"}, {name: "other", letter: "C"}, {name: "missing", letter: "E"}}},
		{name: "scoped-support", letter: "s", scopes: []string{"parts.read"}, about: staff},
		{name: "support", letter: "s", about: staff},
		{name: "engineer", letter: "e", about: staff},
		{name: "administrator", letter: "a", about: staff},
		{name: "service", letter: "v", about: staff},
	}
}

// placeholders are what stands in a request for an object, for a caller.
func (w *world) placeholders(c caller, r relation) map[string]string {
	out := map[string]string{}
	for _, field := range []string{"tie", "document", "reading", "works_entry", "use", "answer", "feed", "transfer", "assignment", "opt_out", "own_entry", "claim", "span"} {
		out[field] = "x1"
	}
	maps.Copy(out, w.on[r.letter])
	out["organisation"], out["campaign"] = "saltmarket", matrixCampaign
	if c.name == "dealer-saltmarket" {
		out["organisation"] = "ferncombe"
	}
	if r.letter == "E" {
		out["organisation"] = "none"
	}
	if r.mixed != "" {
		out["person"] = w.people[r.mixed]
	}
	if c.letter == "d" {
		if out["dealer_entry"] != "" {
			out["own_entry"] = out["dealer_entry"]
		}
		if r.theirs() {
			out["organisation"] = strings.TrimPrefix(strings.Replace(c.name, "scoped-dealer", "ferncombe", 1), "dealer-")
		}
	}
	return out
}

// forbidden is all that must not stand in an answer to a limited caller.
func (w *world) forbidden(c caller) []string {
	var out []string
	for who, marks := range w.markers {
		if who != c.person {
			out = append(out, marks...)
		}
	}
	for letter, serial := range w.serials {
		if letter != "E" && c.letter == "d" {
			out = append(out, "KEY-OF-"+serial)
		}
	}
	if c.letter == "d" {
		out = append(out, "Reykjavik", "LAID_UP", "lay-up", "laid up") // where its owner lives, and when nobody is there
	}
	return out
}
