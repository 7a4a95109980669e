package bulletin

import "halfshaft/services/vehicle"

// Check says everything that is wrong with a draft, in the words of the API's
// fields. The error is of kind Invalid.
func (b *Bulletin) Check(compiler vehicle.PredicateCompiler) error { panic("unfinished") }

// Issue gives the draft as it is issued on a day. A bulletin is signed by the
// works' engineer, or marked as a sample. The error is of kind
// FailedPrecondition for what is no draft, of kind Invalid for a draft that is
// not whole.
func (b Bulletin) Issue(on vehicle.Date, compiler vehicle.PredicateCompiler) (Bulletin, error) {
	panic("unfinished")
}

// Withdraw takes an issued version back, with a reason; by names the bulletin
// that takes its place, empty for none, and makes it superseded.
func (b Bulletin) Withdraw(reason, by string) (Bulletin, error) { panic("unfinished") }

// Supersede gives the version as it is once a later version is issued.
func (b Bulletin) Supersede() (Bulletin, error) { panic("unfinished") }

// Next gives the draft of the next version, from the latest.
func (b Bulletin) Next() Bulletin { panic("unfinished") }
