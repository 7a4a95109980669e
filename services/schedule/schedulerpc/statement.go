package schedulerpc

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

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

// mayVoid reports whether the caller may strike an entry out: an owner only
// what they stated themselves.
func mayVoid(ctx context.Context, m *schedulev1.ServiceEntry) bool {
	caller := access.CallerFrom(ctx)
	return caller.Role != access.Owner || m.GetOwnerStatement() && stated(caller, m)
}

// stated reports whether something was said by the owner who asks.
func stated(caller access.Caller, m interface{ GetStatedBy() string }) bool {
	return caller.Person != "" && caller.Person == m.GetStatedBy()
}

// discreetReading takes out of a reading what is not for an owner who asks: the
// technical record goes on to whoever has the vehicle next, and the words and
// photographs of those who had it do not.
func discreetReading(caller access.Caller, m *schedulev1.Reading) {
	if caller.Role != access.Owner {
		return
	}
	if !strings.HasPrefix(m.GetPhotograph(), caller.Person+"/") || caller.Person == "" {
		m.Photograph = ""
	}
	if m.GetSource() == schedulev1.ReadingSource_READING_SOURCE_OWNER && !stated(caller, m) {
		m.Note, m.StatedBy = "", ""
		if m.GetSettlement() != nil {
			m.Settlement.Reason = "" // it may repeat theirs
		}
	}
}

// discreetEntry gives an entry as an owner who asks may read it, likewise: of
// another's statement what was done and measured, without a word. It changes
// nothing in what it is given.
func discreetEntry(caller access.Caller, m *schedulev1.ServiceEntry) *schedulev1.ServiceEntry {
	if caller.Role != access.Owner || !m.GetOwnerStatement() || stated(caller, m) {
		return m
	}
	m = proto.CloneOf(m)
	m.DoneBy, m.Note, m.StatedBy = "", "", ""
	if m.GetVoidReason() != "" {
		m.VoidReason = "struck out"
	}
	for _, done := range m.GetItems() {
		done.Note = ""
		for _, v := range done.GetMeasured() {
			v.MeasuredBy, v.Instrument = "", ""
		}
	}
	return m
}
