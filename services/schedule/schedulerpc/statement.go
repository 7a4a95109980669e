package schedulerpc

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/resname"
)

// documentPattern is the name of a photograph that belongs to a reading.
const documentPattern = "people/{person}/documents/{document}"

// photograph checks the name of a photograph. Whether the file is there is not
// asked: it is sealed under a person's key and may be erased at any time, and
// the reading stays.
func (c *checker) photograph(name string) {
	if name != "" {
		_, err := resname.Match("photograph", documentPattern, name)
		c.must(err == nil, "photograph", name, documentPattern)
	}
}

// ownPhotograph keeps an owner to documents of their own; a dealer has none.
func (c *checker) ownPhotograph(ctx context.Context, name string) {
	caller := access.CallerFrom(ctx)
	switch caller.Role {
	case access.Owner:
		c.must(name == "" || strings.HasPrefix(name, caller.Person+"/"), "photograph", name, "a document of your own")
	case access.Dealer:
		c.must(name == "", "photograph", name, "none: photographs are the owner's")
	}
}

// organisation checks the name of the dealer whose people recorded something.
// Whether they are there is not asked, likewise.
func (c *checker) organisation(name string) {
	if name != "" {
		_, err := resname.Match("organisation", "organisations/{organisation}", name)
		c.must(err == nil, "organisation", name, "organisations/{organisation}")
	}
}

// statedBy checks the name of the owner who said something. Whether they are
// there is not asked: they may be erased at any time, and what they said about
// the vehicle stays.
func (c *checker) statedBy(name string) {
	if name != "" {
		_, err := resname.Match("stated_by", "people/{person}", name)
		c.must(err == nil, "stated_by", name, "people/{person}")
	}
}

// statement marks an entry that an owner records as their statement, and holds
// it to what an owner can say: that items were done, when, by whom, at which
// reading, and what was measured. Parts and shims are for the papers.
func (c *checker) statement(ctx context.Context, m *schedulev1.ServiceEntry) {
	if access.CallerFrom(ctx).Role != access.Owner {
		return
	}
	m.OwnerStatement, m.StatedBy = true, access.CallerFrom(ctx).Person
	c.must(len(m.GetParts()) == 0, "parts", strconv.Itoa(len(m.GetParts())), "none in an owner's statement: the works takes them from the papers")
	for i, done := range m.GetItems() {
		c.must(len(done.GetShims()) == 0, fmt.Sprintf("items[%d].shims", i), strconv.Itoa(len(done.GetShims())),
			"none in an owner's statement: the works takes them from the papers")
	}
}
