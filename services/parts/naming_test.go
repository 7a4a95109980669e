package parts

import "testing"

func TestAQuestionIsHowANameEnds(t *testing.T) {
	for _, test := range []struct {
		question, name string
		ends           bool
	}{
		{"coil", "Ignition coil", true},
		{"coil", "Coil lead", false},
		{"timing chain", "Engine, four-cylinder, rebuilt: timing chain", true},
		{"timing chain", "Timing-chain tensioner, second pattern", false},
		{"wheel bearing", "Front hub, left: wheel-bearing set", true},
		{"wheel bearing set", "Front hub, left: wheel-bearing set", true},
		{"hand brake shoes", "handbrake shoes", true},
		{"handbrake lever", "hand brake lever", true},
		{"ball joint right-hand thread", "Steering linkage set: ball joint, right-hand thread", true},
		{"ball joint right-hand thread", "Ball joint, left-hand thread, second pattern", false},
		{"front wing left", "Front wing, outer, left", true},
		{"seal kit", "Caliper seal kit", true},
		{"caliper", "Caliper seal kit", false},
		{"caliper", "", false},
	} {
		a := understand(test.question)
		if got := a.ends(test.name); got != test.ends {
			t.Errorf("%q ends %q: got %v, want %v", test.question, test.name, got, test.ends)
		}
	}
}

func TestASideInANameMustBeAskedForUnlessItTellsTwinsApart(t *testing.T) {
	c := NewCatalogue()
	for _, id := range []string{"brakes-front", "brakes-rear", "gearbox-input-seal", "transfer-front-bearing"} {
		c.PutPosition(Position{ID: id, Title: id})
	}
	for _, test := range []struct {
		question, name, position string
		exactly                  bool
	}{
		{"brakes", "front brakes", "brakes-front", true},
		{"front brakes", "front brakes", "brakes-front", true},
		{"rear brakes", "front brakes", "brakes-front", false},
		{"seal", "front seal", "gearbox-input-seal", false},
		{"front seal", "front seal", "gearbox-input-seal", true},
		{"bearing", "front bearing", "transfer-front-bearing", false},
	} {
		a := understand(test.question)
		if got := c.exactly(&a, test.name, []string{test.position}, EitherHand); got != test.exactly {
			t.Errorf("%q is %q at the %s: got %v, want %v", test.question, test.name, test.position, got, test.exactly)
		}
	}
}
