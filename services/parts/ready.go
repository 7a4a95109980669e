package parts

import (
	"maps"
	"slices"
	"strings"
	"sync"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// Ready is a vehicle made ready for questions on the day of its configuration:
// every position with what belongs there and what stands there. It stays true
// as long as catalogue and releases are what they were. It is safe for
// concurrent use.
type Ready struct {
	*Answerer
	vehicle *Vehicle
	makeup  vehicle.Makeup

	mu         sync.Mutex // of everything below
	sites      []*site    // in order of position
	mains      []want     // what stands at each position
	companions []want     // what comes with it, and has no position of its own
	around     circumstances
	indexed    *wantIndex          // see index
	fitting    *Subset             // the parts of all these, see Search
	places     map[string][]string // where each of them goes
}

// Prepare makes a vehicle ready. Of a vehicle about which several questions
// will be asked, what it gives is worth keeping.
func (a *Answerer) Prepare(v *Vehicle) *Ready {
	r := &Ready{Answerer: a, vehicle: v, makeup: a.Catalogue.MakeupOf(&v.Configuration)}
	r.around = circumstances{
		catalogue: a.Catalogue, on: v.Configuration.On, fitted: a.Catalogue.asNumbered(v.Configuration.Fitted),
		known: map[routeKey]route{}, found: map[string]bool{},
	}
	r.smallSites(r.ownSites())
	slices.SortFunc(r.sites, func(a, b *site) int { return strings.Compare(a.position, b.position) })
	for _, s := range r.sites {
		s.call()
		for _, b := range s.bases() {
			main := b.main()
			r.mains = append(r.mains, main)
			r.companions = append(r.companions, main.companions()...)
		}
	}
	r.companions = r.withoutOwnPlace(r.companions)
	r.companions = append(r.companions, r.kits()...)
	return r
}

// asNumbered gives what is fitted by the numbers of the catalogue: a record may
// have written one in another way, "ap 4110".
func (c *Catalogue) asNumbered(fitted []build.Fitted) []build.Fitted {
	out := slices.Clone(fitted)
	for i := range out {
		if p := c.Find(out[i].Component.Part); p != nil {
			out[i].Component.Part = p.Number
		}
	}
	return out
}

// Answer answers one question.
func (r *Ready) Answer(question string) Answer {
	r.mu.Lock()
	defer r.mu.Unlock()
	q := query{Ready: r, asked: understand(question)}
	answer := q.answer(question)
	answer.Serial, answer.On = r.vehicle.Configuration.Serial, r.vehicle.Configuration.On
	if n := len(answer.Choices); n > mostChoices {
		answer.Choices = answer.Choices[:mostChoices]
	}
	return answer
}

// ownSites are the positions that the specification of the vehicle names, and
// those at which something stands. It gives them by name.
func (r *Ready) ownSites() map[string]*site {
	fitted, specified := r.around.fitted, r.vehicle.Specified
	own := make(map[string]*site, max(len(fitted), len(specified)))
	for i := range specified {
		if sp := &specified[i]; sp.Part != "" {
			own[sp.Position] = &site{position: sp.Position, specified: sp, circumstances: r.at(sp.Release)}
		}
	}
	for i := range fitted {
		f := &fitted[i]
		s := own[f.Component.Position]
		if s == nil {
			s = &site{position: f.Component.Position, circumstances: r.at(f.Release)}
			own[s.position] = s
		}
		s.fitted = f
	}
	for _, s := range own {
		r.sites = append(r.sites, s)
	}
	return own
}

// at gives the circumstances at a position that follows a release.
func (r *Ready) at(release string) circumstances {
	c := r.around
	c.release = release
	return c
}

// smallSites are the places on the assemblies that the vehicle has; and
// everywhere the applications decide what belongs.
func (r *Ready) smallSites(own map[string]*site) {
	roots := slices.Clone(r.sites)
	for _, s := range roots {
		if p := r.Catalogue.positions.Get(s.position); p == nil || p.Within == "" {
			s.decide(r.Catalogue.applications.of(s.position), r.subject(s))
			r.within(s, s, own, 0)
		}
	}
	for _, s := range roots {
		if s.subject == nil { // on an assembly that the vehicle does not have
			s.decide(r.Catalogue.applications.of(s.position), r.subject(s))
		}
	}
}

// within adds the places on an assembly, and on what is on it.
func (r *Ready) within(root, on *site, own map[string]*site, depth int) {
	if depth == deepest {
		return
	}
	for _, p := range r.Catalogue.positions.of(on.position) {
		s := own[p.ID] // something recorded stands there
		if s == nil {
			s = &site{position: p.ID}
			r.sites = append(r.sites, s)
		}
		s.root, s.on, s.circumstances = root, on, root.circumstances
		s.decide(r.Catalogue.applications.of(p.ID), r.subject(s))
		r.within(root, s, own, depth+1)
	}
}

// subject gives what conditions are judged on at a site.
func (r *Ready) subject(s *site) *subject {
	conf := &r.vehicle.Configuration
	sub := &subject{
		serial: conf.Serial, release: s.release, options: conf.Options, built: r.vehicle.Built, market: conf.Market,
		makeup: &r.makeup, anywhere: s.anywhere, place: s.place(),
	}
	for at := s; at != nil; at = at.on {
		switch {
		case at.fitted == nil:
		case at.isBare():
			sub.bare = true
		default:
			sub.lots = append(sub.lots, at.fitted.Component.Lot)
		}
	}
	return sub
}

// MakeupOf is what expressions can ask about a configuration.
func (c *Catalogue) MakeupOf(conf *build.Configuration) vehicle.Makeup {
	m := vehicle.Makeup{
		Release: conf.Release, Options: conf.Options, Wheelbase: conf.Wheelbase, Market: conf.Market,
		AxleRatio: conf.Drive.AxleRatio.Float64(), SpeedometerDrive: conf.Drive.Gears(), TyreSize: conf.Tyre.Size,
		Fitted: make(map[string][]string, len(conf.Fitted)),
	}
	for i := range conf.Fitted {
		m.Fitted[conf.Fitted[i].Component.Position], _ = c.traitsOf(&conf.Fitted[i])
	}
	return m
}

// site finds a position of the vehicle; nil when it has none of that name.
func (r *Ready) site(position string) *site {
	i, ok := slices.BinarySearchFunc(r.sites, position, func(s *site, p string) int { return strings.Compare(s.position, p) })
	if !ok {
		return nil
	}
	return r.sites[i]
}

// withoutOwnPlace leaves out what has a place of its own on the assembly that
// it would come with, whether it belongs there on this vehicle or not.
func (r *Ready) withoutOwnPlace(companions []want) []want {
	type place struct{ assembly, part string }
	own := map[place]bool{}
	for _, s := range r.sites {
		if s.root == nil {
			continue
		}
		for _, rows := range [][]verdict[*Application]{s.candidates, s.others} {
			for _, v := range rows {
				if v.row.Part == "" {
					continue
				}
				for _, node := range s.from(v.row.Part).nodes {
					own[place{s.root.position, node}] = true
				}
			}
		}
	}
	return slices.DeleteFunc(companions, func(w want) bool {
		return own[place{w.top().position, w.part}]
	})
}

// kits are those of the catalogue that hold what is ordered for the vehicle and
// may stand there by their own entry, where nothing else brings them.
func (r *Ready) kits() []want {
	type place struct{ position, kit string }
	known := map[place]bool{}
	for _, list := range [][]want{r.mains, r.companions} {
		for i := range list {
			known[place{list[i].top().position, list[i].route.lines[0].Part}] = true
		}
	}
	var out []want
	for i := range r.mains {
		m := &r.mains[i]
		for _, l := range m.route.lines {
			for _, holder := range r.Catalogue.holders[l.Part] {
				kit, at := r.Catalogue.Part(holder), place{m.top().position, holder}
				if kit == nil || known[at] || len(kit.Positions) == 0 || !kit.holds(l.Part) || !r.Catalogue.mayStand(kit, m.position) || !kit.suits(m.release) || !r.fitsHere(kit, m.top()) {
					continue
				}
				known[at] = true
				with := &companionship{part: holder, holder: l.Part, rule: "KIT_FOR", how: "is a kit that holds"}
				out = append(out, want{base: m.top().base(holder, nil), count: 1, with: with})
			}
		}
	}
	return out
}

// fitsHere says whether everything in a kit that has a place on an assembly
// belongs there on this vehicle: a kit for points is none for a distributor
// without them, though some of its seals are the same.
func (r *Ready) fitsHere(kit *Part, top *site) bool {
	return !slices.ContainsFunc(kit.Contents, func(l Line) bool {
		placed := slices.ContainsFunc(r.Catalogue.byPart[l.Part], func(row *Application) bool {
			s := r.site(row.Position)
			return s != nil && s.top() == top
		})
		return placed && !slices.ContainsFunc(r.mains, func(m want) bool {
			return m.top() == top && slices.Contains(m.route.nodes, l.Part)
		})
	})
}

// Serial is the vehicle's.
func (r *Ready) Serial() vehicle.Serial { return r.vehicle.Configuration.Serial }

// On is the day that it is made ready for.
func (r *Ready) On() vehicle.Date { return r.vehicle.Configuration.On }

// Has says whether the vehicle has a position.
func (r *Ready) Has(position string) bool { return r.site(position) != nil }

// PositionsCalled gives the positions of the vehicle that a text names: the
// position itself, in words, or the beginning that several share, "brakes";
// none where it names none that the vehicle has.
func (r *Ready) PositionsCalled(text string) []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.site(text) != nil {
		return []string{text}
	}
	q := query{Ready: r, asked: understand(text)}
	var meant []string
	words := strings.Fields(text)
	for i := -1; i+1 < len(words) && len(meant) == 0; i++ { // as written, then with two neighbours as one: "gear box"
		joined := query{Ready: r, asked: understand(text)}
		if i >= 0 {
			joined.asked = understand(strings.Join(words[:i+1], " ") + strings.Join(words[i+1:], " "))
		}
		meant = slices.DeleteFunc(joined.positionsMeant(), func(p string) bool { return r.site(p) == nil })
	}
	if len(meant) > 0 {
		return meant
	}
	named := func(s *site) bool { return s.root == nil && s.names(q.asked) }
	begins := strings.Join(append(slices.Clone(q.asked.words), q.asked.directions...), "-")
	for _, s := range r.sites {
		first, _, _ := strings.Cut(s.position, "-")
		if s.root == nil && begins != "" && (singular(first) == begins || strings.HasPrefix(s.position, begins+"-")) || named(s) {
			meant = append(meant, s.position)
		}
	}
	return meant
}

// Search finds among the parts that can be wanted of the vehicle, and says
// where each goes.
func (r *Ready) Search(text string, limit int) []FoundHere {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.fitting == nil {
		r.places = map[string][]string{}
		for _, wants := range [][]want{r.mains, r.companions} {
			for i := range wants {
				for _, l := range wants[i].route.lines {
					r.places[l.Part] = append(r.places[l.Part], wants[i].position)
				}
			}
		}
		r.fitting = r.Catalogue.Subset(slices.Collect(maps.Keys(r.places)))
	}
	var out []FoundHere
	for _, f := range r.Catalogue.SearchWithin(r.fitting, text, limit) {
		out = append(out, FoundHere{f, sortedUnique(slices.Clone(r.places[f.Part.Number]))})
	}
	return out
}

// FoundHere is a part that was found, and where on the vehicle it goes.
type FoundHere struct {
	Found
	Positions []string
}
