package parts

import "slices"

// Subset is a set of parts of a catalogue, made once and searched often: what
// fits a vehicle. It stays right when the catalogue changes, but is quicker
// when it is made anew after parts came or went. It is never changed, and may
// be used by many at once.
type Subset struct {
	numbers []string
	made    *set
	of      *Catalogue
	epoch   uint64
}

// Subset makes a subset of the parts of these numbers, exactly as printed;
// numbers that are of no part are no error, they may come.
func (c *Catalogue) Subset(numbers []string) *Subset {
	numbers = sortedUnique(slices.Clone(numbers))
	return &Subset{numbers: numbers, made: c.setOf(numbers), of: c, epoch: c.words.epoch}
}

// Len gives how many parts of the catalogue the subset had when it was made.
func (s *Subset) Len() int { return s.made.n }

// set gives the parts as the catalogue has them now.
func (s *Subset) set(c *Catalogue) *set {
	if s.of == c && s.epoch == c.words.epoch {
		return s.made
	}
	return c.setOf(s.numbers)
}

func (c *Catalogue) setOf(numbers []string) *set {
	out := &set{}
	for _, number := range numbers {
		if e := c.byNumber[number]; e != nil {
			out.list = append(out.list, e.id)
		}
	}
	slices.Sort(out.list)
	out.n = len(out.list)
	out.shape(len(c.words.docs))
	return out
}
