package parts

import "slices"

// endByUse finds the service entry that used as many as there are places, which
// ends a piece, and the first before it that used fewer, from when on it is in
// doubt. A unit with a serial is in doubt at most.
func (w *vehicleUses) endByUse(p *usePiece) {
	if len(w.used) == 0 {
		return
	}
	total := w.placesCount()
	hasSerial := p.stay >= 0 && p.role.kind == sought && w.life.stays[p.stay].serial != 0
	for i := 0; i < len(w.used); {
		day := w.usedOn(i)
		i = day.next
		switch {
		case day.first < 0 || day.day <= p.from:
		case day.day >= p.until:
			return
		case day.quantity >= total && total > 0 && !hasSerial:
			p.until, p.end, p.endUse = day.day, endedByUse, day.first
			return
		case p.doubt > day.day && !(day.isSought && w.lot == "" && w.serial == ""):
			// What is asked for in place of what is asked for leaves the answer
			// as it was, where any will do.
			p.doubt, p.doubtUse = day.day, day.first
		}
	}
}

// useDay is what the service entries of one day used of what can fill a place,
// without what a change of that day tells of.
type useDay struct {
	day      int32
	quantity int  // single parts: how many a kit holds for one place is not on record
	isSought bool // nothing was used but what is asked for
	first    int  // of w.used; -1 for nothing
	next     int  // where the next day begins
}

func (w *vehicleUses) usedOn(from int) useDay {
	d := useDay{day: w.used[from].day, isSought: true, first: -1, next: from}
	for ; d.next < len(w.used) && w.used[d.next].day == d.day; d.next++ {
		u := &w.used[d.next]
		if u.told || u.role.kind == renewer {
			continue
		}
		if d.first < 0 {
			d.first = d.next
		}
		d.isSought = d.isSought && u.role.kind == sought
		if u.role.kind == sought || u.role.kind == rival {
			d.quantity += u.Quantity
		}
	}
	return d
}

// endByPlaces ends a piece without a position of its own when the last of its
// places was filled anew, on a day or later; when some were, it is in doubt.
func (w *vehicleUses) endByPlaces(p *usePiece, day int32) {
	last, first, places := int32(0), int32(never), 0
	for _, place := range w.allPlaces() {
		if p.stay >= 0 && place.position == p.position {
			continue
		}
		event := place.firstEvent(day)
		last, first, places = max(last, event), min(first, event), places+1
	}
	switch {
	case places == 0 || first >= p.until:
	case last < p.until:
		p.until, p.end = last, endedByPlaces
	case p.role.kind == sought:
		p.doubt = first
	}
}

// firstEvent gives the first day, from one on, on which a unit came to a place
// or went from it; never when it has stood there since.
func (p *usePlace) firstEvent(from int32) int32 {
	first := int32(never)
	for i := range p.stays {
		if day := p.stays[i].from; day >= from && !p.stays[i].further {
			first = min(first, day)
		}
		if isLast := i+1 == len(p.stays) || !p.stays[i+1].further; isLast && p.stays[i].until >= from {
			first = min(first, p.stays[i].until)
		}
	}
	return first
}

// usePlace is a position at which the thing may stand on one vehicle.
type usePlace struct {
	position uint32
	count    int
	stays    []useStay // there; also of the assembly that a small one is on, and comes and goes with
	isSmall  bool
}

// allPlaces gives the positions at which the thing may stand. Most vehicles of
// most questions are cleared before anybody asks for them.
func (w *vehicleUses) allPlaces() []usePlace {
	if w.placed {
		return w.places
	}
	w.placed = true
	stays := w.life.stays
	for i := 0; i < len(stays); {
		j, is, count := i, w.isPlace[stays[i].position], 1
		for ; j < len(stays) && stays[j].position == stays[i].position; j++ {
			r := w.roleAt(j)
			is = is || r != nil && (r.kind == sought || r.kind == rival)
			count = max(count, int(stays[j].count))
		}
		if is {
			w.places = append(w.places, usePlace{position: stays[i].position, count: count, stays: stays[i:j]})
		}
		i = j
	}
	for i := range w.sites {
		w.addPlace(&w.sites[i])
	}
	return w.places
}

// addPlace adds the place of a site, as far as the records do not tell of it.
func (w *vehicleUses) addPlace(s *useSite) {
	count := 0
	for i := range s.calls {
		switch c := &s.calls[i]; {
		case !w.callsForSought(s, c):
		case c.row != nil:
			count = max(count, c.row.Count())
		default:
			count = max(count, int(w.life.stays[s.stay].count))
		}
	}
	if count == 0 {
		return
	}
	at := slices.IndexFunc(w.places, func(p usePlace) bool { return p.position == s.position })
	if at < 0 {
		at = len(w.places)
		w.places = append(w.places, usePlace{position: s.position, stays: w.life.at(s.position)})
	}
	place := &w.places[at]
	place.count = max(place.count, count)
	if s.isSmall && !place.isSmall {
		place.isSmall, place.stays = true, append(slices.Clip(place.stays), w.life.at(w.life.stays[s.stay].position)...)
	}
}

// at gives the stays at a position.
func (l *useLife) at(position uint32) []useStay {
	is := func(s useStay) bool { return s.position == position }
	from := slices.IndexFunc(l.stays, is)
	if from < 0 {
		return nil
	}
	to := from
	for to < len(l.stays) && is(l.stays[to]) {
		to++
	}
	return l.stays[from:to]
}

func (w *vehicleUses) placesCount() int {
	total := 0
	for _, place := range w.allPlaces() {
		total += place.count
	}
	return total
}
