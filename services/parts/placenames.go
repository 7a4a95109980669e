package parts

// placeNames finds the positions of the catalogue by what they are called: by
// identifier or title, in any order of words, or all that differ only by the
// directions left out.
type placeNames struct {
	whole    map[string][]string   // by all words
	families map[string][]string   // by the words without directions
	called   map[string]string     // the words of each position and its other words, joined by hyphens
	names    map[string][][]string // the identifier, the title and the other words of each, taken apart
}

func namesOf(positions *Register[Position]) placeNames {
	n := placeNames{whole: map[string][]string{}, families: map[string][]string{}, called: map[string]string{}, names: map[string][][]string{}}
	for p := range positions.All() {
		n.called[p.ID] = calledOf(p)
		for _, text := range append([]string{p.ID, p.Title}, p.Words...) {
			n.names[p.ID] = append(n.names[p.ID], wordsOf(text))
		}
		for _, text := range []string{p.ID, p.Title} {
			a := understand(text)
			if len(a.words) == 0 {
				continue
			}
			n.whole[a.key()] = append(n.whole[a.key()], p.ID)
			n.families[wordKey(a.words)] = append(n.families[wordKey(a.words)], p.ID)
		}
	}
	for _, lists := range []map[string][]string{n.whole, n.families} {
		for key, ids := range lists {
			lists[key] = sortedUnique(ids)
		}
	}
	return n
}

func (n *placeNames) positions(a asked) []string {
	if len(a.words) == 0 {
		return nil
	}
	if exact := n.whole[a.key()]; exact != nil {
		return exact
	}
	family := n.families[wordKey(a.words)]
	if len(family) == 1 && len(a.directions) == 0 && len(understand(family[0]).directions) > 0 {
		return nil // it is not one of several that differ by the side: "front output bearing" is not any output bearing
	}
	var meant []string
	for _, position := range family {
		if a.directed(position, EitherHand) {
			meant = append(meant, position)
		}
	}
	return meant
}

// calledOf gives the words by which people ask for a position.
func calledOf(p *Position) string {
	called := p.ID
	for _, text := range append([]string{p.Title}, p.Words...) {
		for _, t := range read(text) {
			called += "-" + t.text
		}
	}
	return called
}
