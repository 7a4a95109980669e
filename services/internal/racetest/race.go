//go:build race

package racetest

// On says whether the race detector is on.
const On = true
