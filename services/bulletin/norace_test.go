//go:build !race

package bulletin_test

const underRace = false
