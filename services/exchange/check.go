package exchange

import (
	"errors"
	"slices"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Check looks at the import as a whole, together with what Met was told of:
// whether every reference leads somewhere, and whatever the domains ask of
// their records, so that a service finds nothing to refuse once the first of
// them has been committed. today is the last day that a change may have.
func (c *Collection) Check(today vehicle.Date) {
	for _, t := range everything() {
		for _, d := range c.drafts[t] {
			if t.Service == Build || t.Service == Parts || t.Service == Owner || t == &Programmes.Table {
				c.known.add(c.Message(d))
			} else if !d.same {
				break // history is referred to by nothing
			}
		}
	}
	for _, t := range everything() {
		for _, d := range c.drafts[t] {
			if !d.same {
				c.checkReferences(d)
				c.checkLines(d)
			}
		}
	}
	c.checkNew()
	c.checkReleases()
	if !c.isLost(&Releases.Table) { // by which they are judged
		c.checkBuilds()
		c.checkChanges(today)
	}
	c.checkCatalogue()
	c.checkBulletins(today)
	c.checkWarranties(today)
	c.checkEnquiries(today)
	c.checkHandbooks()
}

// everything lists the tables and the kinds of documents, in the order in
// which their rows are sent to a service: what is referred to comes first.
func everything() []*Table {
	out := []*Table{&Releases.Table}
	for _, t := range Tables() {
		if t.IsLine() {
			continue
		}
		switch t.Name {
		case "readings":
			out = append(out, &Amendments.Table, &Programmes.Table)
		case "days out of service":
			// Lists before the versions that they are of: see the bulletin service.
			out = append(out, &FollowUps.Table, &Bulletins.Table, &WarrantyTerms.Table, &Claims.Table)
		}
		out = append(out, t)
	}
	return append(out, &Books.Table, &HandbookIssues.Table)
}

// checkReferences asks of every cell that refers to something whether it is
// there. A record that comes from an export was accepted once, by services
// that do not ask each other for everything; it must find its way back.
func (c *Collection) checkReferences(d *Draft) {
	if len(d.Table.Columns) == 0 {
		c.documentReferences(d)
		return
	}
	m := d.Table.message.New()
	decode(d.row, m)
	restored := hasTime(m)
	c.rowReferences(d, d.Table, d.place, m, restored)
	for _, l := range d.lines {
		m := l.table.message.New()
		decode(l.row, m)
		c.rowReferences(d, l.table, l.place, m, restored)
	}
}

func hasTime(m protoreflect.Message) bool {
	f := m.Descriptor().Fields().ByName("create_time")
	return f != nil && m.Has(f)
}

func (c *Collection) rowReferences(d *Draft, t *Table, place Place, m protoreflect.Message, restored bool) {
	for i := range t.Columns {
		column := &t.Columns[i]
		if column.Ref == NoRef || t.Service == Build && column.Ref != RefVehicle && column.Ref != RefPart {
			continue // the build domain knows more of releases than this
		}
		if restored && column.Ref != RefVehicle && column.Ref != RefPerson {
			continue
		}
		if c.refsLost(column.Ref) || slices.Contains(d.refused, refusal{place, column.Name}) {
			continue
		}
		wrong := false
		for _, text := range column.references(d, m, t.ordered[i]) {
			if !c.known.has(column.Ref, text) {
				wrong = true
				c.at(place, column.Name, text, refWants[column.Ref])
			}
		}
		if wrong {
			d.bad = true
			d.refused = append(d.refused, refusal{place, column.Name})
		}
	}
}

// references gives what a cell refers to.
func (c *Column) references(d *Draft, m protoreflect.Message, path fieldPath) []string {
	if c.Key != "" {
		return []string{strings.Split(d.Name, "/")[1]}
	}
	text := c.text(m, path)
	switch {
	case text == "":
		return nil
	case c.Kind == Kit:
		var out []string
		lines, _ := readKit(text)
		for _, l := range lines {
			out = append(out, l.part)
		}
		return out
	case c.Kind == Pack:
		return packParts(text)
	case c.Kind == Words:
		return splitWords(text)
	}
	return []string{text}
}

// documentReferences checks the parts and the programme of a release.
func (c *Collection) documentReferences(d *Draft) {
	r, ok := c.Message(d).(*buildv1.Release)
	if !ok || r.GetCreateTime() != nil {
		return
	}
	if p := strings.TrimPrefix(r.GetProgramme(), "programmes/"); p != "" && !c.known.programmes[p] && !c.refsLost(RefProgramme) {
		c.Refuse(d, "programme", p, refWants[RefProgramme])
	}
	c.fitments(d, "fitments", r.GetFitments())
	for i, o := range r.GetOptions() {
		c.fitments(d, at("options", i)+".fitments", o.GetFitments())
	}
}

func (c *Collection) fitments(d *Draft, path string, fitments []*buildv1.Fitment) {
	if c.refsLost(RefPart) {
		return
	}
	for i, f := range fitments {
		if f.GetPart() != "" && !c.known.parts[f.GetPart()] {
			c.Refuse(d, at(path, i)+".part", f.GetPart(), refWants[RefPart])
		}
	}
}

// checkLines asks that a line of a line has one to belong to, and that no item
// is done twice in one entry.
func (c *Collection) checkLines(d *Draft) {
	var m protoreflect.Message
	seen := map[string]Place{}
	for i := range d.lines {
		l := &d.lines[i]
		if l.table.joins != "" {
			if m == nil {
				m = c.Message(d).ProtoReflect()
			}
			if !l.joinsOne(m) && !c.outerLost(l.table) {
				c.at(l.place, "item", l.join, "an item that was done in the entry: a row in items done")
			}
			continue
		}
		if l.table.Name != "items done" {
			continue
		}
		item := l.table.lineItem(l.row)
		if first, twice := seen[item]; twice {
			c.at(l.place, "item", item, "each item once in an entry: it stands in "+c.placeText(first)+" too")
		}
		seen[item] = l.place
	}
}

// lineItem gives the item of a row of items done.
func (t *Table) lineItem(row []byte) string {
	m := t.message.New()
	decode(row, m)
	i := t.column("item")
	return t.Columns[i].text(m, t.ordered[i])
}

// joinsOne says whether the record has the line that l belongs to.
func (l *line) joinsOne(m protoreflect.Message) bool {
	outer, _, _ := cutField(l.table.field)
	list := m.Get(m.Descriptor().Fields().ByName(protoreflect.Name(outer))).List()
	for i := range list.Len() {
		element := list.Get(i).Message()
		if element.Get(element.Descriptor().Fields().ByName(protoreflect.Name(l.table.joins))).String() == l.join {
			return true
		}
	}
	return false
}

func cutField(field string) (outer, inner string, nested bool) { return strings.Cut(field, ".") }

func (c *Collection) refuseAll(d *Draft, fields []fault.Field) {
	for _, f := range fields {
		c.Refuse(d, f.Name, f.Got, f.Want)
	}
}

// formFaults gives what a conversion found wrong.
func formFaults(err error) []fault.Field {
	var f *fault.Error
	if errors.As(err, &f) {
		if len(f.Fields) == 0 {
			return []fault.Field{{Want: f.Message}}
		}
		return f.Fields
	}
	return nil
}

func (c *Collection) checkReleases() {
	for _, d := range c.drafts[&Releases.Table] {
		if d.same {
			continue
		}
		r, err := buildwire.Release(c.Message(d).(*buildv1.Release))
		c.refuseAll(d, append(formFaults(err), build.CheckRelease(&r)...))
	}
}

func (c *Collection) checkBuilds() {
	for _, d := range c.drafts[TableNamed("builds")] {
		if d.same {
			continue
		}
		rec, err := buildwire.Record(c.Message(d).(*buildv1.Build))
		c.refuseAll(d, append(formFaults(err), build.CheckRecord(&rec, c.known.releases)...))
	}
}

// checkChanges takes the changes of each vehicle in order of date, each in the
// light of all that is recorded of the vehicle otherwise.
func (c *Collection) checkChanges(today vehicle.Date) {
	byVehicle := map[vehicle.Serial][]*Draft{}
	var order []vehicle.Serial
	for _, d := range c.drafts[TableNamed("changes")] {
		serial := vehicle.Serial(strings.Split(d.Name, "/")[1])
		if byVehicle[serial] == nil {
			order = append(order, serial)
		}
		byVehicle[serial] = append(byVehicle[serial], d)
	}
	for _, serial := range order {
		if rec, ok := c.record(serial); ok {
			c.changesOf(&rec, byVehicle[serial], today)
		}
	}
}

// record gives the build record of a vehicle: that of the import, or the one
// that is there.
func (c *Collection) record(serial vehicle.Serial) (build.Record, bool) {
	m, ok := c.standing[serial]
	if d := c.byName[build.Name(serial)]; d != nil {
		m, ok = c.Message(d).(*buildv1.Build)
	}
	if !ok {
		return build.Record{}, false
	}
	rec, _ := buildwire.Record(m)
	return rec, true
}

func (c *Collection) changesOf(rec *build.Record, drafts []*Draft, today vehicle.Date) {
	imported := map[string]bool{}
	changes := make([]build.Change, len(drafts))
	var all []build.Change
	for i, d := range drafts {
		ch, err := buildwire.Change(c.Message(d).(*buildv1.Change))
		if !d.same {
			c.refuseAll(d, formFaults(err))
		}
		changes[i], imported[d.Name] = ch, true
		all = append(all, ch)
	}
	for _, m := range c.happened[rec.Serial] {
		if ch, err := buildwire.Change(m); err == nil && !imported[m.GetName()] {
			all = append(all, ch)
		}
	}
	for i, d := range drafts {
		if d.same || d.bad {
			continue
		}
		others := slices.DeleteFunc(slices.Clone(all), func(o build.Change) bool { return o.ID == changes[i].ID })
		c.refuseAll(d, build.CheckChange(&changes[i], rec, others, c.known.releases, today))
	}
}
