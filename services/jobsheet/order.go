package jobsheet

import (
	"cmp"
	"slices"
)

// The working order (common practice, no source): remedies come first, those of
// vehicles that are not to be driven before all others, for the rest may turn out
// not to be worth doing that day. Then place by place, so that a vehicle is
// lifted and a wheel comes off once, in the order of the programme; and at each
// place what is measured as it is found before anything is undone, then what is
// renewed, and oil last, when all that was open is closed. What is done to the
// whole vehicle, and the nuts of wheels, come at the end.
const (
	asFound = iota
	apart
	filled
)

// stage says when at its place an item is done.
func (i *Item) stage() int {
	switch {
	case i.Fluid.Fluid != "" && len(i.Measured) == 0 && len(i.Needs) == 0:
		return filled
	case len(i.Measured) > 0 && len(i.Needs) == 0 && i.Fluid.Fluid == "":
		return asFound
	}
	return apart
}

// last are the groups of work that comes after all other (common practice, no
// source): wheels go on when the brakes are closed, and a vehicle is laid up or
// waxed when it is done.
var last = []string{"wheels", "body", "instruments", "lay-up"}

// inOrder gives items in working order. Of equal ones the order of the programme,
// in which they come, stands.
func inOrder(items []Item) []*Item {
	place := map[string]int{}
	for i := range items {
		if _, seen := place[items[i].Group]; !seen {
			place[items[i].Group] = len(place)
		}
	}
	out := make([]*Item, len(items))
	for i := range items {
		out[i] = &items[i]
	}
	slices.SortStableFunc(out, func(a, b *Item) int {
		return cmp.Or(
			cmp.Compare(slices.Index(last, a.Group), slices.Index(last, b.Group)), // -1 for none
			cmp.Compare(place[a.Group], place[b.Group]),
			cmp.Compare(a.stage(), b.stage()),
		)
	})
	return out
}

// urgentFirst gives remedies, those that keep the vehicle from being driven first.
func urgentFirst(remedies []Remedy) []*Remedy {
	out := make([]*Remedy, len(remedies))
	for i := range remedies {
		out[i] = &remedies[i]
	}
	slices.SortStableFunc(out, func(a, b *Remedy) int {
		switch {
		case a.StopUse == b.StopUse:
			return cmp.Compare(a.Campaign, b.Campaign)
		case a.StopUse:
			return -1
		}
		return 1
	})
	return out
}
