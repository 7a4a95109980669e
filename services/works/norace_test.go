//go:build !race

package works_test

// raceDetector says that this test runs several times slower than the program.
const raceDetector = false
