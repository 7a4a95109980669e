package parts

import (
	"iter"
	"maps"
	"slices"
	"strings"
)

// Record is one row of a register of the catalogue.
type Record interface {
	Key() string   // its identifier, unique in the register
	Group() string // what rows are looked up by: the position, or the assembly
}

// Register is all rows of one kind, by identifier and by group. It shares the
// rules of the Catalogue that it belongs to.
type Register[R Record] struct {
	byKey    map[string]*R
	keys     []string // in order, see seal
	groups   map[string][]*R
	unsealed bool
}

func newRegister[R Record]() Register[R] {
	return Register[R]{byKey: map[string]*R{}, groups: map[string][]*R{}}
}

func (r *Register[R]) put(row R) {
	key := row.Key()
	if old := r.byKey[key]; old != nil {
		r.leave(old)
	} else {
		r.keys = append(r.keys, key)
		r.unsealed = true
	}
	r.byKey[key] = &row
	group := row.Group()
	at, _ := slices.BinarySearchFunc(r.groups[group], key, func(e *R, key string) int { return strings.Compare((*e).Key(), key) })
	r.groups[group] = slices.Insert(r.groups[group], at, &row)
}

func (r *Register[R]) remove(key string) {
	if old := r.byKey[key]; old != nil {
		r.leave(old)
		delete(r.byKey, key)
		r.keys = without(r.keys, key)
	}
}

// leave takes a row out of its group.
func (r *Register[R]) leave(old *R) {
	group := (*old).Group()
	if left := without(r.groups[group], old); len(left) > 0 {
		r.groups[group] = left
	} else {
		delete(r.groups, group)
	}
}

func (r *Register[R]) seal() {
	if r.unsealed {
		slices.Sort(r.keys)
		r.unsealed = false
	}
}

// Get finds a row by its identifier; nil when there is none.
func (r *Register[R]) Get(key string) *R { return r.byKey[key] }

// Len gives the number of rows.
func (r *Register[R]) Len() int { return len(r.byKey) }

// All gives all rows, in any order.
func (r *Register[R]) All() iter.Seq[*R] { return maps.Values(r.byKey) }

// After gives up to n rows in order of identifier, beginning after the given
// one.
func (r *Register[R]) After(key string, n int) []*R {
	var out []*R
	for _, k := range after(r.keys, key, n) {
		out = append(out, r.byKey[k])
	}
	return out
}

// of gives the rows of a group in order of identifier; they must not be
// changed.
func (r *Register[R]) of(group string) []*R { return r.groups[group] }
