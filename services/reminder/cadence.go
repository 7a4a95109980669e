package reminder

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
