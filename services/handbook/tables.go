package handbook

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// sampleNote stands below tables with values that nobody has signed.
const sampleNote = "Sample values, to be signed by the works’ engineer."

// Table implements Values.
func (r *Record) Table(asked ValuesAsked) (*Table, string) {
	t, missing := r.table(asked)
	if t != nil {
		t.Caption = asked.Caption
	}
	return t, missing
}

func (r *Record) table(asked ValuesAsked) (*Table, string) {
	switch asked.Kind {
	case Identity:
		return r.identity(), ""
	case Fluids:
		return r.fluids(asked.Of)
	case Settings:
		return r.settings(asked.Of)
	case RoadSpeeds:
		return r.roadSpeeds()
	case IndicatedSpeeds:
		return r.indicatedSpeeds()
	case ServicePlan:
		return r.servicePlan()
	case ServiceEvents:
		return r.serviceEvents()
	case ServicePages:
		return r.servicePages(), ""
	case MeasuredValues:
		return r.measured(), ""
	case Odometer:
		return r.odometer()
	case Warranty:
		return r.warranty(), ""
	case Contact:
		return r.contact()
	}
	return nil, "there is no such table"
}

// identity is what the vehicle is, and everything on it that has a trait: a
// mechanic far from the works reads it here.
func (r *Record) identity() *Table {
	t := &Table{Columns: []Column{{Head: "What", Weight: 2}, {Head: "On this vehicle", Weight: 3}}, Dense: true}
	first := Group{Rows: []Row{rowOf("Serial", string(r.Serial)), rowOf("Release", r.Release)}}
	add := func(what, value string) {
		if value != "" {
			first.Rows = append(first.Rows, rowOf(what, value))
		}
	}
	var options []string
	for _, o := range r.Options {
		options = append(options, strings.ReplaceAll(o, "-", " "))
	}
	if len(options) == 0 {
		options = []string{"none"}
	}
	add("Options", strings.Join(options, ", "))
	add("Wheelbase", r.Wheelbase)
	add("Built for the market", wording.Country(r.Market))
	if r.DonorYear > 0 {
		add("Year of the donor", fmt.Sprint(r.DonorYear))
	}
	add("Finish", r.Finish)
	add("Built", dateText(r.Built))
	add("Handed over", dateText(r.Delivered))
	add("Tyres", strings.TrimSpace(r.Drive.TyreSize+" "+r.Drive.Tread))
	add("Axle ratio", r.Drive.Axle)
	add("Gearbox ratios", strings.Join(r.Drive.Gears, ", "))
	add("Transfer ratio, high range", r.Drive.High)
	add("Transfer ratio, low range", r.Drive.Low)
	add("Speedometer drive", r.Drive.Drive)
	t.Groups = append(t.Groups, first)
	like := Group{Title: "What it is like, place by place"}
	at := map[string][]string{} // places, by what they are like
	var said []string
	for _, f := range r.Fitted {
		text := f.like()
		if text == "" {
			continue
		}
		if at[text] == nil {
			said = append(said, text)
		}
		at[text] = append(at[text], f.Position)
	}
	for _, text := range said {
		like.Rows = append(like.Rows, rowOf(placesOf(at[text]), text))
	}
	if len(like.Rows) > 0 {
		t.Groups = append(t.Groups, like)
	}
	return t
}

// like says what is particular about a thing; empty for nothing.
func (f FittedThing) like() string {
	var traits []string
	for _, trait := range f.Traits {
		traits = append(traits, worded(traitWords, trait))
	}
	text := strings.Join(traits, ", ")
	if !f.Standard {
		text = strings.Join(nonEmpty(text, "not the release’s own part"), "; ")
	}
	return text
}

// placesOf names several places in a line; what they have in common at the front
// is said once: "Hub front left, front right and rear left".
func placesOf(positions []string) string {
	var names []string
	for i, p := range positions {
		name := parts.Spoken(p)
		first, rest, more := strings.Cut(name, " ")
		if before, _, _ := strings.Cut(parts.Spoken(positions[0]), " "); i > 0 && more && first == before {
			name = rest
		}
		names = append(names, name)
	}
	return wording.UpperFirst(wording.List(names, "and"))
}

func nonEmpty(texts ...string) []string {
	return slices.DeleteFunc(texts, func(t string) bool { return t == "" })
}

// shortDate is a day in a column: "5 Apr 2027".
func shortDate(d vehicle.Date) string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%d\u00a0%.3s\u00a0%d", d.Day, d.Month, d.Year)
}

func dateText(d vehicle.Date) string {
	if d.IsZero() {
		return ""
	}
	return d.Long()
}

// askedAt says whether a table that was asked for some positions is for this
// one: for itself, or for the beginning that several share.
func askedAt(asked []string, position string) (int, bool) {
	if len(asked) == 0 {
		return 0, true
	}
	for i, one := range asked {
		if position == one || strings.HasPrefix(position, one+"-") {
			return i, true
		}
	}
	return 0, false
}

func (r *Record) fluids(asked []string) (*Table, string) {
	t := &Table{Columns: []Column{{Head: "Where", Weight: 2}, {Head: "What", Weight: 3}, {Head: "How much", Weight: 1.5}, {Head: "To where", Weight: 2.6}}, Dense: true}
	type charge struct { // what is the same at several places
		at     int
		fluid  Fluid
		places []string
	}
	var charges []*charge
	of := map[string]*charge{}
	sample := false
	for _, f := range r.Fluids {
		at, ok := askedAt(asked, f.Position)
		if !ok {
			continue
		}
		same := fmt.Sprint(at, f.Fluid, f.Quantity, f.Method, f.NeverMix)
		if of[same] == nil {
			of[same] = &charge{at: at, fluid: f}
			charges = append(charges, of[same])
		}
		of[same].places, sample = append(of[same].places, f.Position), sample || f.Sample
	}
	if len(charges) == 0 {
		return nil, "no fluid is on record"
	}
	slices.SortStableFunc(charges, func(a, b *charge) int { return a.at - b.at })
	g := Group{}
	for _, c := range charges {
		row := rowOf(placesOf(c.places), c.fluid.Fluid, "", c.fluid.Method)
		if len(c.fluid.NeverMix) > 0 {
			row.Cells[1].Words = append(row.Cells[1].Words, Run{Text: "; "}, Run{Kind: Strong, Text: "never with " + families(c.fluid.NeverMix)})
		}
		if c.fluid.Quantity.Unit != "" {
			row.Cells[2].Words = quantity(c.fluid.Quantity)
			if len(c.places) > 1 {
				row.Cells[2].Words = append(row.Cells[2].Words, Run{Text: " each"})
			}
		}
		g.Rows = append(g.Rows, row)
	}
	t.Groups = []Group{g}
	if sample {
		t.Note = sampleNote
	}
	return t, ""
}

func families(all []string) string {
	var said []string
	for _, f := range all {
		said = append(said, worded(familyWords, f))
	}
	if n := len(said); n > 1 {
		return strings.Join(said[:n-1], ", ") + " or " + said[n-1]
	}
	return strings.Join(said, "")
}

// settings is a table of settings in the order asked: "tyres", or "tyres
// front-pressure" for one of a position. Each that is asked for by itself must
// be there.
func (r *Record) settings(asked []string) (*Table, string) {
	t := &Table{Columns: []Column{{Head: "What", Weight: 3}, {Head: "Set to", Weight: 3.2}, {Head: "How", Weight: 2.4}}, Dense: true}
	g := Group{}
	sample := false
	add := func(s Setting) {
		what := place(s.Position) + ": " + strings.ReplaceAll(s.Characteristic, "-", " ")
		if s.Subject != "" {
			what += ", " + s.Subject
		}
		g.Rows, sample = append(g.Rows, rowOf(what, s.Window, s.Method)), sample || s.Sample
	}
	if len(asked) == 0 {
		for _, s := range r.Settings {
			add(s)
		}
	}
	for _, one := range asked {
		args := strings.Fields(one)
		before := len(g.Rows)
		for _, s := range r.Settings {
			if s.Position == args[0] && (len(args) < 2 || s.Characteristic == args[1]) && (len(args) < 3 || s.Subject == strings.Join(args[2:], " ")) {
				add(s)
			}
		}
		if len(g.Rows) == before {
			return nil, "there is no setting " + one
		}
	}
	if len(g.Rows) == 0 {
		return nil, "no setting is on record"
	}
	t.Groups = []Group{g}
	if sample {
		t.Note = sampleNote
	}
	return t, ""
}

func (r *Record) contact() (*Table, string) {
	if r.Works.Name == "" || r.Works.Telephone == "" && r.Works.Mail == "" {
		return nil, "the works has no name, or neither telephone nor mail"
	}
	g := Group{Rows: []Row{rowOf("Works", r.Works.Name)}}
	for _, row := range [][2]string{{"Address", r.Works.Address}, {"Telephone", r.Works.Telephone}, {"Mail", r.Works.Mail}} {
		if row[1] != "" {
			g.Rows = append(g.Rows, rowOf(row[0], row[1]))
		}
	}
	g.Rows = append(g.Rows, rowOf("Your serial", string(r.Serial)))
	return &Table{Columns: []Column{{Head: "What", Weight: 1}, {Head: "Where", Weight: 3}}, Groups: []Group{g}}, ""
}
