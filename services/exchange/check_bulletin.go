package exchange

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/vehicle"
)

// checkBulletins looks at bulletins and at the lists of campaigns, each by itself
// and in what it refers to, as the bulletin service will.
func (c *Collection) checkBulletins(today vehicle.Date) {
	all := map[string][]*bulletin.Bulletin{} // that there will be, by identifier
	for _, b := range c.known.bulletins {
		all[b.ID] = append(all[b.ID], b)
	}
	draftOf := map[*bulletin.Bulletin]*Draft{}
	for _, d := range c.drafts[&Bulletins.Table] {
		if d.same {
			continue
		}
		b, err := bulletinwire.Bulletin(c.Message(d).(*bulletinv1.Bulletin))
		if err == nil {
			err = b.Restored(c.known.compiler, today.AddDays(1))
		}
		c.refuseAll(d, formFaults(err))
		if !d.met {
			all[b.ID] = append(all[b.ID], &b)
			draftOf[&b] = d
		}
	}
	for _, versions := range all {
		slices.SortFunc(versions, func(a, b *bulletin.Bulletin) int { return cmp.Compare(a.Version, b.Version) })
	}
	for b, d := range draftOf {
		if c.isLost(&Bulletins.Table) {
			break // which versions there will be nobody knows
		}
		if at, wrong, ok := bulletin.Follows(all[b.ID]); !ok && all[b.ID][at] == b && !d.bad {
			c.Refuse(d, wrong.Name, wrong.Got, wrong.Want)
		}
		if b.SupersededBy != "" && len(all[b.SupersededBy]) == 0 {
			c.Refuse(d, "superseded_by", bulletin.Name(b.SupersededBy), "a bulletin that is there or in the import")
		}
	}
	for _, d := range c.drafts[&FollowUps.Table] {
		if !d.same {
			c.checkFollowUp(d, all, today)
		}
	}
}

func (c *Collection) checkFollowUp(d *Draft, all map[string][]*bulletin.Bulletin, today vehicle.Date) {
	m := c.Message(d).(*bulletinv1.FollowUp)
	f, err := bulletinwire.FollowUp(m)
	if err == nil {
		err = f.Restored(today.AddDays(1))
	}
	c.refuseAll(d, formFaults(err))
	c.wantKnown(d, "name", strings.Split(d.Name, "/")[1], RefVehicle)
	c.listedBy(d, &f, m.GetBulletin(), all)
	for i, s := range f.Steps {
		of := TableNamed("service entries")
		switch {
		case strings.HasPrefix(s.Evidence, "bulletins/"): // a step that the service made for a new version
			of = &Bulletins.Table
		case strings.HasPrefix(s.Evidence, "builds/"):
			of = TableNamed("changes")
		}
		if s.Evidence != "" && (!c.there(s.Evidence, of) || of != &Bulletins.Table && !sameVehicle(s.Evidence, d.Name)) {
			c.Refuse(d, fmt.Sprintf("steps[%d].evidence", i), s.Evidence, "a service entry or a change of this vehicle that is there or in the import")
		}
	}
}

// listedBy wants the version that put a vehicle on its list.
func (c *Collection) listedBy(d *Draft, f *bulletin.FollowUp, name string, all map[string][]*bulletin.Bulletin) {
	if c.isLost(&Bulletins.Table) {
		return
	}
	i := slices.IndexFunc(all[f.Bulletin], func(b *bulletin.Bulletin) bool { return b.Version == f.Version })
	if id, _, _ := bulletinwire.VersionName("bulletin", name); i < 0 || id != f.Bulletin ||
		all[f.Bulletin][i].Kind != bulletin.Campaign || all[f.Bulletin][i].State == bulletin.Draft {
		c.Refuse(d, "bulletin", name, "a version of "+f.Bulletin+", a campaign that was issued, which is there or in the import")
	}
}
