package parts

// callsForSought says whether what is asked for may stand where the catalogue
// makes a call.
func (w *vehicleUses) callsForSought(s *useSite, c *useCall) bool {
	if c.part == "" {
		return false
	}
	for _, p := range w.patterns(c.part, s.release) {
		if p.role != nil && p.role.kind == sought {
			return true
		}
	}
	return false
}

// mayBe says whether the unit of a stay may be the part that the release calls
// for, and marks the piece where it may be another one: applications outrank
// the release, and where supersessions of the part were in force when it was
// fitted, it may have been any pattern that was allowed then. Where each of
// these is asked for it is sure.
func (w *vehicleUses) mayBe(p *usePiece) bool {
	site := p.site
	for i := range site.calls {
		c := &site.calls[i]
		if c.part != p.role.number {
			continue
		}
		if c.isSure && len(site.calls) == 1 && w.leftBy(c.part, site.release, site.made) == nil || w.areAllSought(site) {
			return true
		}
		for k, all := 0, w.patterns(c.part, site.release); k < len(all); k++ {
			if pattern := &all[k]; pattern.number == c.part && pattern.isOpen(site.made) {
				p.call, p.pattern = c, pattern
				return true
			}
		}
		return false
	}
	for i := range site.calls {
		c := &site.calls[i]
		if c.part == "" || !c.isSure || c.day > site.from {
			all := w.patterns(p.role.number, site.release)
			p.call, p.pattern = c, &all[0]
			return true // nothing is supplied, or no application decides, or not for all days
		}
	}
	return false
}

// areAllSought says whether whatever may have been fitted at a site is asked
// for.
func (w *vehicleUses) areAllSought(site *useSite) bool {
	for i := range site.calls {
		if site.calls[i].part == "" {
			return false
		}
		for _, p := range w.patterns(site.calls[i].part, site.release) {
			if p.wasAllowed(site.made) && (p.role == nil || p.role.kind != sought) {
				return false
			}
		}
	}
	return true
}

// addSought takes in where what is asked for may stand by the catalogue alone.
func (w *vehicleUses) addSought() {
	for i := range w.sites {
		site := &w.sites[i]
		if !w.isAdded(site) {
			w.addPatterns(site, func(r *role) bool { return r.kind == sought })
		}
	}
}

// isAdded says whether a stay of what is asked for was taken in for the site:
// then any other pattern that is asked for is told of with it.
func (w *vehicleUses) isAdded(site *useSite) bool {
	for i := range w.pieces {
		if p := &w.pieces[i]; !site.isSmall && p.stay == site.stay {
			return true
		}
	}
	return false
}

// addHolders takes in what may hold it, or be renewed with it, by the catalogue
// alone; not where it has a place of its own on that assembly.
func (w *vehicleUses) addHolders() {
	for i := range w.sites {
		if site := &w.sites[i]; !w.hasPlaceOn(site.stay) {
			w.addPatterns(site, func(r *role) bool { return r.kind == kit || r.kind == renewer })
		}
	}
}

// hasPlaceOn says whether what is asked for has a place of its own on a unit.
func (w *vehicleUses) hasPlaceOn(stay int) bool {
	for stay > 0 && w.life.stays[stay].further {
		stay--
	}
	for i := range w.pieces {
		if p := &w.pieces[i]; p.stay < 0 && p.site != nil && p.site.stay == stay && p.role.kind == sought {
			return true
		}
	}
	return false
}

// addPatterns takes in each part that may stand at a site, or may have been
// fitted there since, nobody having written down which.
func (w *vehicleUses) addPatterns(site *useSite, wants func(*role) bool) {
	first := map[string]*usePiece{}
	var order []*usePiece
	for i := range site.calls {
		c := &site.calls[i]
		if c.part == "" {
			continue
		}
		all := w.patterns(c.part, site.release)
		for k := range all {
			p := w.piece(site, c, &all[k])
			if all[k].role == nil || !wants(all[k].role) || p == nil {
				continue
			}
			if was := first[p.pattern.number]; was == nil {
				first[p.pattern.number], order = p, append(order, p)
			} else if p.from < was.from {
				*was = *p
			}
		}
	}
	for _, p := range order {
		w.add(*p)
	}
}

// piece makes a piece of a pattern that may have gone in at a site; nil where
// the days or the records exclude it.
func (w *vehicleUses) piece(site *useSite, c *useCall, pattern *usePattern) *usePiece {
	if !pattern.isOpen(site.made) || !site.isSmall && pattern.number == w.seeds[w.index.names.folded(w.life.stays[site.stay].part)] && pattern.role.isHolder() {
		return nil // what stands there on record is told of as a stay
	}
	p := usePiece{
		role: pattern.role, stay: -1, used: -1, site: site, call: c, pattern: pattern,
		position: site.position, from: c.day, until: site.until, doubt: never, doubtUse: -1,
	}
	if p.until != never {
		p.end = endedByChange
	}
	if site.recorded < p.until {
		p.until, p.end = site.recorded, endedByRecord
	}
	w.endByUse(&p) // by what went in before it, too: then a record says what stands there
	p.from = max(p.from, pattern.entry)
	if p.from >= min(p.until, c.until) || len(w.known) > 0 && p.from > site.from {
		return nil // a component with a serial on record comes and goes by changes
	}
	if w.lot != "" {
		p.lot.state = nobodyKnows
	}
	if w.serial != "" {
		p.serial.state = nobodyKnows
	}
	return &p
}

func (r *role) isHolder() bool { return r != nil && (r.kind == kit || r.kind == renewer) }
