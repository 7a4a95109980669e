// Package parts decides which part fits a vehicle today, and why.
//
// A question is understood as a position, else as a part number, else as
// words, and becomes an Answer: the part to order for each position meant,
// with quantity, chain of supersessions, what to renew with it, and the
// reasons step by step; or a Refusal that says where the part does belong; or
// several candidates with the question that tells them apart. Never a guess.
//
//	vehicle  -> Answerer.Prepare -> Ready: every position with what belongs there
//	            and what stands there
//	question -> Ready.Answer -> positions of this vehicle
//	position -> the applications that hold, else what the release calls for, and
//	            what is fitted (services/build) -> the part to begin from
//	part     -> supersessions that hold on the date, for the release that the
//	            position follows, with what is on the vehicle -> the part today
//
// Applications, settings and capacities share one form of Conditions: decide
// chooses among the rows of a position, and what is not on record makes
// candidates, never a guess. Ready.Sheet gives the technical data of a vehicle.
//
// The Catalogue keeps all records with their indexes; Check finds everything
// that is wrong with a catalogue at once, and surveys for every release with
// every set of options whether each position has exactly one answer.
//
// Everything here is pure: no clock, no store, no network.
package parts
