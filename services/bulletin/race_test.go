//go:build race

package bulletin_test

// underRace says whether the race detector runs, under which the long scans
// take their short form.
const underRace = true
