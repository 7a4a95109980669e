package parts_test

import (
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// The shed is a small works with one of each hard case of the trade: two
// releases, a catalogue, and vehicles with a life. All of it is invented.

func day(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func fitment(position, part string, n int) build.Fitment {
	return build.Fitment{Position: position, Part: part, Quantity: n}
}

func shedReleases() build.ReleaseSet {
	standard := func(gearbox string) []build.Fitment {
		return []build.Fitment{
			fitment("swivel-housing-left", "AP-1010-L", 1), fitment("swivel-housing-right", "AP-1010-R", 1),
			fitment("gearbox", gearbox, 1), fitment("spark-plugs", "AP-3000", 4), fitment("transfer-case", "AP-4000", 1),
			fitment("output-shaft-bearing", "AP-4100", 1), fitment("front-axle-differential", "AP-5000", 1),
			fitment("rear-axle-differential", "AP-5000", 1), fitment("steering-damper", "AP-6000", 1),
			fitment("fan-belt", "AP-7000", 1), fitment("hard-top", "AP-9500", 1), fitment("shock-absorbers", "AP-6500", 4),
		}
	}
	options := []build.Option{
		{ID: "winch", Title: "winch", Fitments: []build.Fitment{fitment("winch", "AP-9000", 1)}},
		{ID: "lsd-rear", Title: "limited-slip differential", Fitments: []build.Fitment{fitment("rear-axle-differential", "AP-5100", 1)}},
		{ID: "soft-top", Title: "soft top", Fitments: []build.Fitment{fitment("soft-top", "AP-9600", 1)}, Removes: []string{"hard-top"}},
	}
	r2 := append(standard("AP-2001"), fitment("brake-servo", "AP-8200", 1))
	return build.ReleaseSet{
		"R1": {ID: "R1", Effective: day("2008-01-01"), Fitments: standard("AP-2000"), Options: options},
		"R2": {ID: "R2", Effective: day("2012-01-01"), Fitments: r2, Options: options},
	}
}

func part(number, title string, more ...func(*parts.Part)) parts.Part {
	p := parts.Part{Number: number, Title: title, Unit: "each", Status: parts.Orderable}
	for _, f := range more {
		f(&p)
	}
	return p
}

func words(w ...string) func(*parts.Part) { return func(p *parts.Part) { p.Words = w } }
func at(positions ...string) func(*parts.Part) {
	return func(p *parts.Part) { p.Positions = positions }
}
func hand(h parts.Hand) func(*parts.Part)         { return func(p *parts.Part) { p.Hand = h } }
func status(s parts.Status) func(*parts.Part)     { return func(p *parts.Part) { p.Status = s } }
func drawing(d string) func(*parts.Part)          { return func(p *parts.Part) { p.Drawing = d } }
func renew(lines ...parts.Line) func(*parts.Part) { return func(p *parts.Part) { p.RenewWith = lines } }
func holds(lines ...parts.Line) func(*parts.Part) { return func(p *parts.Part) { p.Contents = lines } }
func caution(text string) func(*parts.Part)       { return func(p *parts.Part) { p.Caution = text } }
func minimum(n int) func(*parts.Part)             { return func(p *parts.Part) { p.Minimum = n } }
func forReleases(ids ...string) func(*parts.Part) { return func(p *parts.Part) { p.Releases = ids } }
func line(part string, n int) parts.Line          { return parts.Line{Part: part, Quantity: n} }
func lines(l ...parts.Line) []parts.Line          { return l }

func shedParts() []parts.Part {
	swivelRenew := renew(line("AP-1100", 1), line("AP-1103", 2))
	return []parts.Part{
		part("AP-1010-L", "Swivel housing, left", at("swivel-housing-left"), hand(parts.Left), swivelRenew),
		part("AP-1010-R", "Swivel housing, right", at("swivel-housing-right"), hand(parts.Right), swivelRenew),
		part("AP-1100", "Swivel seal", words("swivel ball seal", "big seal"), status(parts.Unavailable)),
		part("AP-1101", "Swivel seal, felt lip", words("swivel seal")),
		part("AP-1102", "Swivel gasket"),
		part("AP-1103", "Locking tab", words("tab washer", "lock tab")),
		part("AP-1190", "Swivel seal kit", holds(line("AP-1101", 1), line("AP-1102", 1), line("AP-1103", 2)),
			caution("Work on a raised axle only on stands, wheels chocked")),
		part("AP-1999", "Gearbox, early pattern", status(parts.Unavailable)),
		part("AP-2000", "Gearbox", words("gear box", "transmission"), status(parts.UseUp)),
		part("AP-2001", "Gearbox, wide ratio", status(parts.UseUp)),
		part("AP-2002", "Gearbox, wide ratio, later", caution("Heavy: two people or a hoist.")),
		part("AP-3000", "Spark plug", at("spark-plugs"), minimum(10)),
		part("AP-3010", "Spark plug, long reach", status(parts.Unavailable)),
		part("AP-4000", "Transfer case", words("transfer box", "tranfer case")),
		part("AP-4010", "Transfer case, wide bearing"),
		part("AP-4100", "Output-shaft bearing set", words("output bearing")),
		part("AP-4110", "Output-shaft bearing set, wide"),
		part("AP-5000", "Differential", words("diff", "diff unit"), status(parts.UseUp)),
		part("AP-5010", "Differential carrier"),
		part("AP-5011", "Crown wheel and pinion", words("cwp"), renew(line("AP-5012", 1))),
		part("AP-5012", "Pinion seal"),
		part("AP-5100", "Limited-slip differential", words("lsd", "limited slip diff"), caution("With one wheel on the ground it drives: raise both.")),
		part("AP-5200", "Limited-slip differential, plate pattern"),
		part("AP-6000", "Steering damper", status(parts.Unavailable), drawing("D-600")),
		part("AP-6500", "Shock absorber", words("damper", "shocker")),
		part("AP-6510", "Shock absorber, gas"),
		part("AP-6520", "Shock absorber, heavy"),
		part("AP-7000", "Fan belt", words("v belt"), hand(parts.EitherHand)),
		part("AP-7010", "Fan belt, cogged"),
		part("AP-8200", "Brake servo", at("brake-servo"), forReleases("R2"),
			holds(line("AP-8201", 1)), renew(line("AP-8201", 1), line("AP-8202", 2))),
		part("AP-8201", "Servo clip"),
		part("AP-8202", "Servo hose"),
		part("AP-9000", "Winch", words("capstan"), at("winch")),
		part("AP-9500", "Hard top"),
		part("AP-9600", "Soft top", words("tilt", "canvas")),
	}
}

func shedSupersessions() []parts.Supersession {
	return []parts.Supersession{
		{ID: "S000", Old: "AP-1999", New: lines(line("AP-2000", 1)), Effective: day("2007-01-01")},
		{ID: "S001", Old: "AP-2000", New: lines(line("AP-2001", 1)), Effective: day("2012-05-01"), Text: "Wider ratios"},
		{ID: "S002", Old: "AP-2001", New: lines(line("AP-2002", 1)), Effective: day("2018-03-01"), TwoWay: true},
		{ID: "S003", Old: "AP-4000", New: lines(line("AP-4010", 1)), Effective: day("2015-01-01"), Together: []string{"AP-4110"}},
		{ID: "S004", Old: "AP-4100", New: lines(line("AP-4110", 1)), Effective: day("2014-01-01"), Releases: []string{"R2"}},
		{ID: "S005", Old: "AP-5000", New: lines(line("AP-5010", 1), line("AP-5011", 1)), Effective: day("2016-06-01")},
		{ID: "S006", Old: "AP-7000", New: lines(line("AP-7010", 1)), Effective: day("2027-01-01")},
		{ID: "S007", Old: "AP-3000", New: lines(line("AP-3010", 1)), Effective: day("2013-01-01"), TwoWay: true},
		{ID: "S008", Old: "AP-1100", New: lines(line("AP-1190", 1)), Effective: day("2019-01-01")},
	}
}

func catalogueOf(all []parts.Part, supersessions []parts.Supersession) *parts.Catalogue {
	c := parts.NewCatalogue()
	for _, p := range all {
		c.Put(p)
	}
	for _, s := range supersessions {
		c.PutSupersession(s)
	}
	c.Seal()
	return c
}

// life is a vehicle of the shed.
type life struct {
	record  build.Record
	changes []build.Change
}

func serial(body string) vehicle.Serial {
	s, err := vehicle.NewSerial(body)
	if err != nil {
		panic(err)
	}
	return s
}

func built(body, release string, options ...string) life {
	return life{record: build.Record{Serial: serial(body), Release: release, Options: options, Built: day("2012-06-01")}}
}

func (l life) change(on string, kind build.ChangeKind, source build.ChangeSource, position, part string) life {
	l.changes = append(l.changes, build.Change{
		Serial: l.record.Serial, ID: on, Kind: kind, Source: source, Date: day(on),
		Component: build.Component{Position: position, Part: part},
	})
	return l
}

func (l life) upgraded(on, release string, positions ...string) life {
	l.changes = append(l.changes, build.Change{
		Serial: l.record.Serial, ID: on, Kind: build.Upgrade, Source: build.SourceWorks, Date: day(on), Release: release, Positions: positions,
	})
	return l
}

// today is the day of the shed's questions, unless a case says another.
const today = "2026-11-25"

func ask(t testing.TB, l life, on, question string) parts.Answer {
	t.Helper()
	return askOf(t, catalogueOf(shedParts(), shedSupersessions()), shedReleases(), l, on, question)
}

func askOf(t testing.TB, c *parts.Catalogue, releases build.ReleaseSet, l life, on, question string) parts.Answer {
	t.Helper()
	conf, specified, err := build.ConfigureSpecified(l.record, l.changes, releases, day(on))
	if err != nil {
		t.Fatal(err)
	}
	a := parts.Answerer{Catalogue: c, Places: parts.NewPlaces(releases)}
	return a.Answer(&parts.Vehicle{Configuration: conf, Specified: specified, Built: l.record.Built}, question)
}
