//go:build long

package parts_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// longQuestions is how many questions of serial, position and day "make long"
// asks of both resolvers at least.
const longQuestions = 100_000

func TestLongADumbResolverAgreesWhichPartBelongsWhere(t *testing.T) {
	defer checks(t, "1000")()
	answered, begin := tally{}, time.Now()
	for answered["asked"] < longQuestions && !t.Failed() {
		rapid.Check(t, answered.asksEverywhere)
	}
	t.Logf("%d questions agree after %v: %v", answered["asked"], time.Since(begin).Round(time.Millisecond), answered)
}

func TestLongTheSurveyFindsWhatGoingThroughEveryVehicleFinds(t *testing.T) {
	defer checks(t, "3000")()
	rapid.Check(t, goesThroughEveryVehicle)
}
