//go:build !long

package works_test

// sequenceCount is how many random sequences a run of the tests has.
const sequenceCount = 40
