package main

import (
	"strings"
	"testing"
)

// TestTheOdometerLawIsDraftedLikeThis compares what staff are given to hand to
// counsel with testdata/disclosure.golden: a dial that shows the distance, one
// that was replaced, one that counts kilometres since, one that went round, one
// with readings that wait, and the notices for the door frame.
func TestTheOdometerLawIsDraftedLikeThis(t *testing.T) {
	readLike(t, demoData(t), "testdata/disclosure.golden", [][]string{
		{"disclosure", "am 0101 g"},
		{"disclosure", "AM0101G", "--on", "2031-01-01", "--model-year", "2011"},
		{"disclosure", "AM01146", "--on", "2020-05-01"},
		{"disclosure", "AM01146"},
		{"disclosure", "AM01162"},
		{"disclosure", "AM01234"},
		{"disclosure", "AM01138"},
		{"disclosure", "AM01146", "--json"},
		{"odometer-notice", "AM01146"},
		{"odometer-notice", "AM01146", "--on", "2020-05-01"},
		{"odometer-notice", "AM01162"},
		{"odometer-notice", "AM01162", "--json"},
	})
}

func TestADisclosureThatCannotBeDraftedSaysWhy(t *testing.T) {
	data := demoData(t)
	for args, want := range map[string]string{
		"disclosure AM0101G --model-year 3000":       `model_year: got "3000"`,
		"disclosure AM0101H":                         "One slip away",
		"disclosure AM0101G --on someday":            `on: got "someday"`,
		"odometer-notice AM0101G --on someday":       `on: got "someday"`,
		"odometer-notice AM0101H":                    "One slip away",
		"disclosure AM0101G --model-year nineteen57": "model-year",
	} {
		if out, ok := halfshaft(t, data, strings.Fields(args)...); ok || !strings.Contains(out, want) {
			t.Errorf("%s: %v, without %q: %s", args, ok, want, out)
		}
	}
}

// TestTheAgeOfATyreIsReadOutLikeThis needs no works: the code stands on the tyre.
// testdata/tyreage.golden has what is said.
func TestTheAgeOfATyreIsReadOutLikeThis(t *testing.T) {
	data := t.TempDir()
	readLike(t, data, "testdata/tyreage.golden", [][]string{
		{"tyre-age", "3524", "--on", "2026-11-25"},
		{"tyre-age", "35/24", "--on", "2029-09-01"},
		{"tyre-age", "DOT", "XX1Z", "ABCD", "5222", "--on", "2032-12-25"},
		{"tyre-age", "129", "--on", "2026-11-25"},
		{"tyre-age", "0126", "--on", "2026-11-25", "--json"},
	})
	for args, want := range map[string]string{
		"tyre-age 5325 --on 2026-11-25": "2025 had no more",
		"tyre-age 4826 --on 2026-11-25": "begins on 29 November 2026",
		"tyre-age nonsense":             "four figures",
		"tyre-age 3524 --on someday":    `on: got "someday"`,
	} {
		if out, ok := halfshaft(t, data, strings.Fields(args)...); ok || !strings.Contains(out, want) {
			t.Errorf("%s: %v, without %q: %s", args, ok, want, out)
		}
	}
}
