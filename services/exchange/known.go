package exchange

import (
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partswire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantywire"
)

// known is what may be referred to: what the services have, and what the
// import brings.
type known struct {
	vehicles   map[string]vehicle.Date // serial -> build date
	releases   build.ReleaseSet
	positions  map[string]bool
	parts      map[string]bool
	people     map[string]bool
	programmes map[string]bool
	items      map[string]bool
	met        map[string]bool // resource names of what is there and may be referred to by its name
	terms      []warranty.Term // versions that are there
	bulletins  []*bulletin.Bulletin
	books      []*handbook.Book // likewise
	compiler   *predicate.Compiler
	catalogue  *parts.Catalogue
}

func newKnown() *known {
	k := &known{
		vehicles: map[string]vehicle.Date{}, releases: build.ReleaseSet{}, positions: map[string]bool{},
		parts: map[string]bool{}, people: map[string]bool{}, programmes: map[string]bool{}, items: map[string]bool{}, met: map[string]bool{},
		catalogue: parts.NewCatalogue(),
	}
	if c, err := predicate.NewCompiler(); err == nil { // it never fails: see there
		k.catalogue.Expressions(c)
		k.compiler = c
	}
	return k
}

// add notes one record that may be referred to. A record that cannot be read
// was refused elsewhere; its name is known all the same, so that one mistake
// is reported once.
func (k *known) add(m proto.Message) {
	switch m := m.(type) {
	case *buildv1.Build:
		built, _ := vehiclewire.Date(m.GetBuildDate())
		k.vehicles[strings.TrimPrefix(m.GetName(), "builds/")] = built
	case *buildv1.Release:
		k.release(m)
	case *partsv1.Part:
		number := strings.TrimPrefix(m.GetName(), "parts/")
		k.parts[number] = !m.GetWithdrawn()
		catalogued(m, number, partswire.Part, k.catalogue.Put, k.catalogue.Remove)
	case *partsv1.Supersession:
		catalogued(m, strings.TrimPrefix(m.GetName(), "supersessions/"), partswire.Supersession, k.catalogue.PutSupersession, k.catalogue.RemoveSupersession)
	case *partsv1.Position:
		position := strings.TrimPrefix(m.GetName(), "positions/")
		k.positions[position] = !m.GetWithdrawn()
		catalogued(m, position, partswire.Position, k.catalogue.PutPosition, k.catalogue.RemovePosition)
	case *partsv1.Application:
		catalogued(m, strings.TrimPrefix(m.GetName(), "applications/"), partswire.Application, k.catalogue.PutApplication, k.catalogue.RemoveApplication)
	case *partsv1.Setting:
		catalogued(m, strings.TrimPrefix(m.GetName(), "settings/"), partswire.Setting, k.catalogue.PutSetting, k.catalogue.RemoveSetting)
	case *partsv1.Capacity:
		catalogued(m, strings.TrimPrefix(m.GetName(), "capacities/"), partswire.Capacity, k.catalogue.PutCapacity, k.catalogue.RemoveCapacity)
	case *ownerv1.Person:
		k.people[strings.TrimPrefix(m.GetName(), "people/")] = true
	case *ownerv1.Erasure:
		k.people[strings.TrimPrefix(m.GetName(), "erasures/")] = true // whose ties stay
	case *schedulev1.ServiceEntry:
		k.met[m.GetName()] = true
	case *buildv1.Change:
		k.met[m.GetName()] = true
	case *handbookv1.HandbookIssue:
		k.met[m.GetName()] = true
	case *handbookv1.Book:
		k.met[m.GetName()] = true
		if b, err := handbookwire.Book(m); err == nil {
			k.books = append(k.books, b)
		}
	case *bulletinv1.Bulletin:
		k.met[m.GetName()] = true
		if b, err := bulletinwire.Bulletin(m); err == nil {
			k.bulletins = append(k.bulletins, &b)
		}
	case *warrantyv1.Claim:
		k.met[m.GetName()] = true
	case *warrantyv1.WarrantyTerm:
		k.met[m.GetName()] = true
		if t, err := warrantywire.Term(m); err == nil {
			k.terms = append(k.terms, t)
		}
	case *schedulev1.Programme:
		id, _, _ := strings.Cut(strings.TrimPrefix(m.GetName(), "programmes/"), "/")
		k.programmes[id] = true
		for _, item := range m.GetItems() {
			k.items[item.GetItemId()] = true
		}
	}
}

func (k *known) release(m *buildv1.Release) {
	r, _ := buildwire.Release(m)
	r.ID = strings.TrimPrefix(m.GetName(), "releases/")
	k.releases[r.ID] = &r
	for _, f := range r.Fitments {
		k.positions[f.Position] = true
	}
	for _, o := range r.Options {
		for _, f := range o.Fitments {
			k.positions[f.Position] = true
		}
	}
}

// catalogued takes a record of the catalogue in, or out where a row withdraws
// it. One that cannot be read was refused elsewhere.
func catalogued[R any, M interface{ GetWithdrawn() bool }](m M, key string, read func(M) (R, error), put func(R), remove func(string)) {
	if m.GetWithdrawn() {
		remove(key)
		return
	}
	if r, err := read(m); err == nil {
		put(r)
	}
}

// has says whether a reference leads somewhere.
func (k *known) has(ref Ref, text string) bool {
	switch ref {
	case RefVehicle:
		_, ok := k.vehicles[text]
		return ok
	case RefRelease:
		return k.releases[text] != nil
	case RefPosition:
		return k.position(text)
	case RefPart:
		return k.parts[text]
	case RefProgramme:
		return k.programmes[text]
	case RefItem:
		return k.items[text]
	case RefPerson:
		return k.people[text]
	}
	return true
}

// position knows a position, and the beginning that several share: "hub" for
// "hub-front-left".
func (k *known) position(text string) bool {
	if k.positions[text] {
		return true
	}
	for p := range k.positions {
		if strings.HasPrefix(p, text+"-") {
			return true
		}
	}
	return false
}

// refWants says what a reference should have been.
var refWants = map[Ref]string{
	RefVehicle:   "a vehicle that is there or in the import",
	RefRelease:   "a release that is there or in the import",
	RefPosition:  "a position of a release or of the catalogue",
	RefPart:      "a part that is there or in the import",
	RefProgramme: "a programme that is there or in the import",
	RefItem:      "an item of a service programme",
	RefPerson:    "a person who is there or in the import",
}
