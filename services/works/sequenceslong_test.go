//go:build long

package works_test

// sequenceCount is how many random sequences a long run has.
const sequenceCount = 10_000
