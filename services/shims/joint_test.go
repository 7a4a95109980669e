package shims_test

import (
	"testing"

	"halfshaft/services/shims"
)

func TestTheJointOfAPosition(t *testing.T) {
	for position, want := range map[string]shims.Joint{
		"output-shaft-bearing": shims.OutputShaft, "swivel-pin-left": shims.SwivelPin, "swivel-pin": shims.SwivelPin,
		"hub-front-left": shims.WheelHub, "hub": shims.WheelHub, "hubcap": shims.OtherJoint, "": shims.OtherJoint,
	} {
		if got := shims.JointAt(position); got != want {
			t.Errorf("%q: %d, want %d", position, got, want)
		}
	}
}
