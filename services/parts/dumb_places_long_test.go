//go:build long

package parts_test

import (
	"flag"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// longQuestions is how many questions of serial, position and day "make long"
// asks of both resolvers at least.
const longQuestions = 100_000

func TestLongADumbResolverAgreesWhichPartBelongsWhere(t *testing.T) {
	checks := flag.Lookup("rapid.checks")
	short := checks.Value.String()
	if err := checks.Value.Set("1000"); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := checks.Value.Set(short); err != nil {
			t.Error(err)
		}
	}()
	answered, begin := tally{}, time.Now()
	for answered["asked"] < longQuestions && !t.Failed() {
		rapid.Check(t, answered.asksEverywhere)
	}
	t.Logf("%d questions agree after %v: %v", answered["asked"], time.Since(begin).Round(time.Millisecond), answered)
}
