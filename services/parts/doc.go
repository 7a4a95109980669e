// Package parts decides which part fits a vehicle today, and why.
//
// A question is understood as a position, else as a part number, else as
// words, and becomes an Answer: the part to order for each position meant,
// with quantity, chain of supersessions, what to renew with it, and the
// reasons step by step; or a Refusal that says where the part does belong; or
// several candidates with the question that tells them apart. Never a guess.
//
//	question -> Answerer.Answer -> positions of this vehicle
//	position -> what is specified and what is fitted (services/build) -> the part to begin from
//	part     -> supersessions that hold on the date, for the release that the
//	            position follows, with what is on the vehicle -> the part today
//
// The Catalogue keeps parts and supersessions with their indexes; Check finds
// everything that is wrong with a catalogue at once.
//
// Everything here is pure: no clock, no store, no network.
package parts
