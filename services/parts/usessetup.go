package parts

import (
	"encoding/binary"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// useSetup is what the conditions of the catalogue can ask of a vehicle during
// some days, its serial, its lots and its day of build aside. Vehicles that are
// alike share one, so that a condition is judged once for all of them. What no
// vehicle needs any more is kept until the index is made anew.
type useSetup struct {
	release, wheelbase, market string
	options                    []string
	head                       string     // all of these
	spots                      []*useSpot // in order of position
}

// useSpot is what stands at a position, shared likewise.
type useSpot struct {
	number                  int    // in the index
	position, part, release string // release: whose standard the position follows
	traits                  []string
	from                    build.TraitsFrom
}

// useEpoch is a stretch of days on which nothing changed on a vehicle.
type useEpoch struct {
	from  int32 // of the first one, the beginning of time
	setup *useSetup
}

// epochs works out what a vehicle was made up of, from when on.
func (x *UseIndex) epochs(rec *build.Record, changes []build.Change, releases build.ReleaseSet) ([]useEpoch, error) {
	asBuilt, err := build.AsBuilt(*rec, releases)
	if err != nil {
		return nil, err
	}
	all := []useEpoch{{dayNumber(vehicle.Date{}), x.setup(&asBuilt)}}
	var days []vehicle.Date
	for i := range changes {
		days = append(days, changes[i].Date)
	}
	slices.SortFunc(days, vehicle.Date.Compare)
	for _, day := range slices.Compact(days) {
		on := day
		if on.Before(rec.Built) {
			on = rec.Built // earlier than that nothing is told
		}
		conf, err := build.Configure(*rec, changes, releases, on)
		if err != nil {
			return nil, err
		}
		if s := x.setup(&conf); s != all[len(all)-1].setup {
			all = append(all, useEpoch{dayNumber(day), s})
		}
	}
	return slices.Clip(all), nil
}

// setup gives the one setup that is like a configuration.
func (x *UseIndex) setup(conf *build.Configuration) *useSetup {
	head := strings.Join(append([]string{conf.Release, conf.Wheelbase, conf.Market}, conf.Options...), separator) + "\x01"
	key, spots := []byte(head), make([]*useSpot, len(conf.Fitted))
	for i := range conf.Fitted {
		spots[i] = x.spot(&conf.Fitted[i])
		key = binary.LittleEndian.AppendUint32(key, uint32(spots[i].number))
	}
	if known := x.setups[string(key)]; known != nil {
		return known
	}
	s := &useSetup{
		release: strings.Clone(conf.Release), wheelbase: strings.Clone(conf.Wheelbase), market: strings.Clone(conf.Market),
		options: slices.Clone(conf.Options), head: head, spots: spots,
	}
	x.setups[string(key)] = s
	return s
}

func (x *UseIndex) spot(f *build.Fitted) *useSpot {
	u := &f.Component
	key := strings.Join(append([]string{u.Position, u.Part, f.Release, strconv.Itoa(int(f.TraitsFrom))}, u.Traits...), separator)
	number, ok := x.spotNumbers[key]
	if !ok {
		number = len(x.spots)
		x.spotNumbers[key] = number
		x.spots = append(x.spots, &useSpot{number, u.Position, u.Part, f.Release, u.Traits, f.TraitsFrom})
	}
	return x.spots[number]
}

// epochOn gives the place of the epoch of a day.
func (l *useLife) epochOn(day int32) int {
	i := len(l.epochs) - 1
	for i > 0 && l.epochs[i].from > day {
		i--
	}
	return i
}

// follows says whose standard a position follows that something stands at.
func (s *useSetup) follows(position string) string {
	i, ok := slices.BinarySearchFunc(s.spots, position, func(s *useSpot, p string) int { return strings.Compare(s.position, p) })
	if !ok {
		return s.release
	}
	return s.spots[i].release
}

// fitted is what stands at a spot, as far as conditions ask.
func (s *useSpot) fitted() build.Fitted {
	return build.Fitted{
		Component: build.Component{Position: s.position, Part: s.part, Traits: s.traits}, Release: s.release, TraitsFrom: s.from,
	}
}

// fitted is what stands on the vehicle, as far as conditions ask.
func (s *useSetup) fitted() []build.Fitted {
	all := make([]build.Fitted, len(s.spots))
	for i, spot := range s.spots {
		all[i] = spot.fitted()
	}
	return all
}
