package bulletin

import (
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Vehicle is what is on record of a vehicle on a day, as far as conditions ask.
type Vehicle struct {
	Serial       vehicle.Serial
	BuiltRelease string
	Releases     []string // that its positions follow today, sorted
	BuiltOptions []string
	Options      []string // in force today
	Built        vehicle.Date
	Delivered    vehicle.Date // zero while it is at the works
	Market       string       // empty where it is not on record
	Wheelbase    string
	Stays        []Stay // in order of position, then of time
	Uses         []schedule.UseFact
	Makeup       vehicle.Makeup // of today, for expressions
}

// Stay is the time of one unit at one position of a vehicle. An overhaul that
// gave the unit another number begins a stay of its own, see Continues.
type Stay struct {
	Position, Part, Serial, Lot string
	From, Until                 vehicle.Date // Until zero: it stands there
	Began, Ended                string       // resource names of changes; empty for the build, and while it stands there
	Origin                      build.Origin
	ByCampaign                  bool           // a campaign took it off
	Continues                   bool           // the same unit goes on in the next stay
	CameFrom, WentTo            vehicle.Serial // by a move; empty for none on record
}

// Fleet is vehicles on a day, made ready for many questions. It does not change
// and is safe for concurrent use.
type Fleet struct {
	on       vehicle.Date
	subjects []subject // in order of serial
	standing map[string]bool
}

// subject is a vehicle as conditions are judged on it.
type subject struct {
	*Vehicle
	on     vehicle.Date
	pieces []piece
}

// piece is a stay with its numbers folded, and with what other records of the
// same unit say where its own is silent.
type piece struct {
	*Stay
	part, serial, lot string
	lotAt             vehicle.Serial // the vehicle whose record gave the lot; empty for its own
	replacedBy        string         // the part that a campaign fitted in its place, folded; empty otherwise
}

// NewFleet makes a fleet. What is on record of a unit on one vehicle, its lot
// for example, counts on every other that it stood on, by its serial.
func NewFleet(vehicles []Vehicle, on vehicle.Date) *Fleet {
	f := &Fleet{on: on, subjects: make([]subject, len(vehicles)), standing: map[string]bool{}}
	known := map[string]*lore{}
	for i := range vehicles {
		f.subjects[i] = newSubject(&vehicles[i], on)
		for k := range f.subjects[i].pieces {
			p := &f.subjects[i].pieces[k]
			if p.serial == "" {
				continue
			}
			if p.Until.IsZero() {
				f.standing[p.serial] = true
			}
			learn(known, p, vehicles[i].Serial)
		}
	}
	for i := range f.subjects {
		f.subjects[i].fill(known)
	}
	slices.SortFunc(f.subjects, func(a, b subject) int { return strings.Compare(string(a.Serial), string(b.Serial)) })
	return f
}

// Len is how many vehicles it has.
func (f *Fleet) Len() int { return len(f.subjects) }

// find gives the vehicle of a serial; nil for none.
func (f *Fleet) find(serial vehicle.Serial) *subject {
	i, ok := slices.BinarySearchFunc(f.subjects, serial, func(s subject, want vehicle.Serial) int {
		return strings.Compare(string(s.Serial), string(want))
	})
	if !ok {
		return nil
	}
	return &f.subjects[i]
}

func newSubject(v *Vehicle, on vehicle.Date) subject {
	s := subject{Vehicle: v, on: on, pieces: make([]piece, len(v.Stays))}
	for i := range v.Stays {
		stay := &v.Stays[i]
		s.pieces[i] = piece{Stay: stay, part: build.Fold(stay.Part), serial: build.Fold(stay.Serial), lot: build.Fold(stay.Lot)}
	}
	for i := range s.pieces {
		if next := i + 1; next < len(s.pieces) && s.pieces[i].ByCampaign &&
			s.pieces[next].Position == s.pieces[i].Position && s.pieces[next].Began == s.pieces[i].Ended {
			s.pieces[i].replacedBy = s.pieces[next].part
		}
	}
	return s
}

// lore is what records say of a unit with a serial, wherever it stood.
type lore struct {
	part, lot string // folded
	lotAt     vehicle.Serial
	torn      bool // the records do not agree on its lot: nothing is taken from them
	tornPart  bool
}

func learn(known map[string]*lore, p *piece, at vehicle.Serial) {
	l := known[p.serial]
	if l == nil {
		l = &lore{}
		known[p.serial] = l
	}
	switch {
	case p.lot == "":
	case l.lot == "":
		l.lot, l.lotAt = p.lot, at
	case l.lot != p.lot:
		l.torn = true
	}
	switch {
	case p.part == "":
	case l.part == "":
		l.part = p.part
	case l.part != p.part:
		l.tornPart = true
	}
}

// fill takes over what is known of a unit where the vehicle's own record is
// silent.
func (s *subject) fill(known map[string]*lore) {
	for i := range s.pieces {
		p := &s.pieces[i]
		l := known[p.serial]
		if l == nil {
			continue
		}
		if p.lot == "" && l.lot != "" && !l.torn {
			p.lot, p.lotAt = l.lot, l.lotAt
		}
		if p.part == "" && !l.tornPart {
			p.part = l.part
		}
	}
}

// unit is the unit for print: "AP-2041, serial T1190, lot L07".
func (p *piece) unit() string {
	words := []string{p.Part}
	switch {
	case p.Part == "" && p.part != "":
		words[0] = p.part
	case p.Part == "":
		words[0] = "a unit without a part number"
	}
	if p.Serial != "" {
		words = append(words, "serial "+p.Serial)
	}
	switch {
	case p.Lot != "":
		words = append(words, "lot "+p.Lot)
	case p.lot != "":
		words = append(words, "lot "+p.lot+" (by the record of "+string(p.lotAt)+")")
	}
	return strings.Join(words, ", ")
}
