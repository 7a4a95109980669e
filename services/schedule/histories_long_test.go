//go:build long

package schedule_test

import (
	"flag"
	"testing"

	"pgregory.net/rapid"
)

// longHistories is how many histories "make long" draws for each property.
const longHistories = "100000"

func TestLongRandomHistories(t *testing.T) {
	checks := flag.Lookup("rapid.checks")
	short := checks.Value.String()
	if err := checks.Value.Set(longHistories); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := checks.Value.Set(short); err != nil {
			t.Error(err)
		}
	}()
	for _, p := range []struct {
		name  string
		check func(*rapid.T)
	}{
		{"any order of the same facts gives the same bytes", anyOrderIsTheSame},
		{"one by one and all at once give the same bytes", oneByOne},
		{"a later reading moves no due date that is past", pastStays},
		{"a higher rate never makes a distance limb later", moreIsNeverLater},
	} {
		t.Run(p.name, func(t *testing.T) { rapid.Check(t, p.check) })
	}
}
