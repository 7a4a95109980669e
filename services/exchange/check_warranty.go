package exchange

import (
	"fmt"
	"slices"
	"strings"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantywire"
)

// checkWarranties looks at terms, claims and days out of service, each by itself
// and in what it refers to, as the warranty service will.
func (c *Collection) checkWarranties(today vehicle.Date) {
	terms := c.checkTerms()
	for _, d := range c.drafts[&Claims.Table] {
		if !d.same {
			c.checkClaim(d, terms, today)
		}
	}
	for _, d := range c.drafts[TableNamed("days out of service")] {
		if d.same {
			continue
		}
		m := c.Message(d).(*warrantyv1.OutOfServiceSpan)
		span, err := warrantywire.Span(m)
		c.refuseAll(d, append(formFaults(err), span.Faults()...))
		if name := m.GetClaim(); name != "" && (!c.there(name, &Claims.Table) || !sameVehicle(name, d.Name)) {
			c.Refuse(d, "claim", name, "a claim of this vehicle that is there or in the import")
		}
	}
}

// there says whether a record is there or in the import, or may be in what could
// not be read.
func (c *Collection) there(name string, t *Table) bool {
	return c.known.met[name] || c.byName[name] != nil || c.isLost(t)
}

// sameVehicle says whether two records, called "vehicles/..." or "builds/...",
// are of one vehicle.
func sameVehicle(a, b string) bool {
	first, second := strings.Split(a, "/"), strings.Split(b, "/")
	return len(first) > 1 && len(second) > 1 && first[1] == second[1]
}

// checkTerms looks at versions of terms, the earlier ones first, and gives all
// that there will be.
func (c *Collection) checkTerms() []warranty.Term {
	type version struct {
		of   *Draft
		term warranty.Term
	}
	var fresh []version
	for _, d := range c.drafts[&WarrantyTerms.Table] {
		if d.same {
			continue
		}
		m := c.Message(d).(*warrantyv1.WarrantyTerm)
		t, err := warrantywire.Term(m)
		c.refuseAll(d, append(formFaults(err), t.Faults()...))
		if m.GetCreateTime() == nil {
			c.termReferences(d, m)
		}
		if err == nil {
			fresh = append(fresh, version{d, t})
		}
	}
	slices.SortFunc(fresh, func(a, b version) int { return warranty.OrderTerms(a.term, b.term) })
	all := slices.Clone(c.known.terms)
	for _, v := range fresh {
		if err := warranty.Admit(all, v.term); err != nil && !v.of.bad && !v.of.met && !c.isLost(&WarrantyTerms.Table) {
			c.refuseAll(v.of, formFaults(err))
		}
		all = append(all, v.term)
	}
	return all
}

// termReferences looks for what a new version names.
func (c *Collection) termReferences(d *Draft, m *warrantyv1.WarrantyTerm) {
	for _, of := range []struct {
		field string
		names []string
		ref   Ref
	}{{"releases", m.GetReleases(), RefRelease}, {"positions", m.GetPositions(), RefPosition}, {"parts", m.GetParts(), RefPart}} {
		for i, name := range of.names {
			c.wantKnown(d, at(of.field, i), name, of.ref)
		}
	}
}

// wantKnown refuses a field of a document that names what is not there.
func (c *Collection) wantKnown(d *Draft, path, name string, ref Ref) {
	if name != "" && !c.refsLost(ref) && !c.known.has(ref, name) {
		c.Refuse(d, path, name, refWants[ref])
	}
}

func (c *Collection) checkClaim(d *Draft, terms []warranty.Term, today vehicle.Date) {
	m := c.Message(d).(*warrantyv1.Claim)
	read, err := warrantywire.Claim(m)
	c.refuseAll(d, append(formFaults(err), read.Restored(today.AddDays(1))...))
	c.wantKnown(d, "name", strings.Split(d.Name, "/")[1], RefVehicle)
	if m.GetCreateTime() == nil {
		c.wantKnown(d, "position", m.GetPosition(), RefPosition)
	}
	if name := m.GetServiceEntry(); name != "" && (!c.there(name, TableNamed("service entries")) || !sameVehicle(name, d.Name)) {
		c.Refuse(d, "service_entry", name, "a service entry of this vehicle that is there or in the import")
	}
	term := func(name string) *warranty.Term {
		if i := slices.IndexFunc(terms, func(t warranty.Term) bool { return t.Name() == name }); i >= 0 {
			return &terms[i]
		}
		return nil
	}
	if c.isLost(&WarrantyTerms.Table) {
		return
	}
	for i, of := range m.GetCover().GetTerms() {
		if term(of.GetTerm()) == nil {
			c.Refuse(d, fmt.Sprintf("cover.terms[%d].term", i), of.GetTerm(), "a version of a warranty term that is there or in the import")
		}
	}
	if name := m.GetRecovery().GetTerm(); name != "" {
		if t := term(name); t == nil || t.Giver != warranty.Supplier {
			c.Refuse(d, "recovery.term", name, "a version of a supplier's term that is there or in the import")
		}
	}
}
