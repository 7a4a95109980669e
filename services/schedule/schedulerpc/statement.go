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

// ownPhotograph keeps an owner to documents of their own.
func (c *checker) ownPhotograph(ctx context.Context, name string) {
	caller := access.CallerFrom(ctx)
	c.must(name == "" || caller.Role != access.Owner || strings.HasPrefix(name, caller.Person+"/"), "photograph", name, "a document of your own")
}

// statement marks an entry that an owner records as their statement, and holds
// it to what an owner can say: that items were done, when, by whom, at which
// reading, and what was measured. Parts and shims are for the papers.
func (c *checker) statement(ctx context.Context, m *schedulev1.ServiceEntry) {
	if access.CallerFrom(ctx).Role != access.Owner {
		return
	}
	m.OwnerStatement = true
	c.must(len(m.GetParts()) == 0, "parts", strconv.Itoa(len(m.GetParts())), "none in an owner's statement: the works takes them from the papers")
	for i, done := range m.GetItems() {
		c.must(len(done.GetShims()) == 0, fmt.Sprintf("items[%d].shims", i), strconv.Itoa(len(done.GetShims())),
			"none in an owner's statement: the works takes them from the papers")
	}
}

// mayVoid reports whether the caller may strike an entry out: an owner only
// what an owner stated.
func mayVoid(ctx context.Context, m *schedulev1.ServiceEntry) bool {
	return access.CallerFrom(ctx).Role != access.Owner || m.GetOwnerStatement()
}
