package exchange

import (
	"fmt"
	"strings"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookwire"
)

// checkHandbooks looks at books and at issues of handbooks, each by itself and in
// what it refers to, as the handbook service will. Whether the files of an issue
// are there is for whoever has them to say.
func (c *Collection) checkHandbooks() {
	all := c.known.books
	drafts := map[*handbook.Book]*Draft{}
	for _, d := range c.drafts[&Books.Table] {
		if d.same {
			continue
		}
		b, err := handbookwire.Book(c.Message(d).(*handbookv1.Book))
		if err == nil {
			err = b.Check(c.known.compiler)
		}
		c.refuseAll(d, formFaults(err))
		if !d.met && b != nil {
			all, drafts[b] = append(all, b), d
		}
	}
	for b, d := range drafts {
		for _, other := range all {
			if f, wrong := b.OutOfOrder(other); wrong && !d.bad {
				c.Refuse(d, f.Name, f.Got, f.Want)
			}
		}
	}
	for _, d := range c.drafts[&HandbookIssues.Table] {
		if !d.same {
			c.checkHandbookIssue(d)
		}
	}
}

func (c *Collection) checkHandbookIssue(d *Draft) {
	m := c.Message(d).(*handbookv1.HandbookIssue)
	c.wantKnown(d, "name", strings.Split(d.Name, "/")[1], RefVehicle)
	serial, n, err := handbookwire.IssueID("name", m.GetName())
	if err != nil || n == handbookwire.Latest {
		c.Refuse(d, "name", m.GetName(), "the number of an issue, from 1")
		return
	}
	if !c.there(m.GetBook(), &Books.Table) {
		c.Refuse(d, "book", m.GetBook(), "a version that is there or in the import")
	}
	if before := handbookwire.IssueName(serial, n-1); n > 1 && !c.there(before, &HandbookIssues.Table) {
		c.Refuse(d, "name", m.GetName(), fmt.Sprintf("issues without a gap: %s is neither there nor in the import", before))
	}
}
