// Package shims chooses the pack of shims that brings an end float, or a
// turning load measured with a spring balance, to what the release asks for
// (checks.md F6).
//
// With P the fitted pack, F what was measured with it, T the target and G what
// a millimetre of shim adds to the measured value, the pack needed is
// P* = P + (T - F)/G, and a pack of total S gives F + G(S - P). For end float G
// is +1 or -1, by the design; for a load it is the slope of the release, against
// the sign of the design, since what adds float takes load away.
//
// # Why the arithmetic is exact
//
// A limit is inclusive, so a pack that gives exactly the limit fits and one that
// gives a hair more does not; binary fractions cannot tell. The total of a pack
// is a whole number of ticks of 1e-13 mm: the coarsest unit in which every
// number of nine decimals of a millimetre, a micrometre, an inch (25.4 mm) or a
// thou is whole, and fine enough that the 64-bit sums never come near their end.
// The window and the target are fractions of whole numbers, because a slope
// divides; each is rounded once to the whole tick that decides alike. Two totals
// on either side of the target are compared by their sum with twice P*.
//
// # Why it is quick
//
// Twelve of twenty sizes make 225 million packs. The sizes are cut in two
// halves; for each half and each number of shims there is a sorted list of the
// totals that can be made and in how many ways, and two lists are walked against
// each other for the totals next to P*. Sizes that follow a pattern make few
// totals; the worst of sizes make some hundred thousand in each half.
//
// A pack has at least one shim: a joint that is made for shims is not closed
// without.
package shims
