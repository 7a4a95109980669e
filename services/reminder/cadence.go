package reminder

import (
	"fmt"
	"strconv"

	"halfshaft/services/fault"
)

// Cadence is how one class of items is reminded of, in days. The numbers are
// the works' habit (common practice, no source).
type Cadence struct {
	Early         int // before the day to act on, where the item does not say itself
	Overdue       int // after it
	SecondOverdue int // after the overdue notice; 0 for no second one
	Works         int // after the last notice
	Apart         int // the least between two notices about one round
}

// Cadences gives the cadence of each class; a class that is not in it has its
// usual one.
type Cadences map[Class]Cadence

// Usual gives the cadence that a class has before anybody changes it.
func Usual(c Class) Cadence {
	switch c {
	case Vital:
		return Cadence{Early: 30, Overdue: 14, SecondOverdue: 14, Works: 14, Apart: 7}
	case Settling:
		return Cadence{Early: 14, Overdue: 14, SecondOverdue: 14, Works: 21, Apart: 7}
	case Seasonal:
		return Cadence{Early: 42, Overdue: 30, SecondOverdue: 30, Works: 30, Apart: 14}
	}
	return Cadence{Early: 30, Overdue: 30, SecondOverdue: 30, Works: 30, Apart: 14}
}

// last gives the last stage that an owner is told.
func (c Cadence) last() Stage {
	if c.SecondOverdue > 0 {
		return SecondOverdue
	}
	return Overdue
}

// Of gives the cadence of a class.
func (c Cadences) Of(class Class) Cadence {
	if class == "" {
		class = Routine
	}
	if own, ok := c[class]; ok {
		return own
	}
	return Usual(class)
}

// Classes are all of them, in the order in which they are listed.
func Classes() []Class { return []Class{Routine, Vital, Seasonal, Settling} }

// longestEarly bounds a cadence's Early and an item's NoticeDays, so that
// Horizon holds.
const longestEarly = 120

// Check refuses numbers that are out of bounds, naming each field as the API
// has it.
func (c Cadence) Check() error {
	var wrong []fault.Field
	for _, f := range []struct {
		name            string
		got, from, most int
	}{
		{"early_days", c.Early, 0, longestEarly}, {"overdue_days", c.Overdue, 1, 365},
		{"second_overdue_days", c.SecondOverdue, 0, 365}, {"works_days", c.Works, 1, 365}, {"apart_days", c.Apart, 1, 90},
	} {
		if f.got < f.from || f.got > f.most {
			wrong = append(wrong, fault.Field{Name: f.name, Got: strconv.Itoa(f.got), Want: fmt.Sprintf("%d to %d", f.from, f.most)})
		}
	}
	return fault.InvalidFields(wrong)
}
