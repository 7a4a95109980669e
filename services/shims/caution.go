package shims

import "halfshaft/services/vehicle"

// cautions are what may hurt somebody, and what must be new (tasks.md T02, S04,
// S05).
func (t teller) cautions() []vehicle.Reason {
	var all []vehicle.Reason
	switch t.p.Joint {
	case OutputShaft:
		all = []vehicle.Reason{
			look("CHOCK_WHEELS", "Chock the wheels: a brake on the transfer-case output does not hold the vehicle with the propshaft off."),
			look("NEW_PARTS", "Fit new locking tabs and a new gasket, and a new seal if it was disturbed."),
			look("BEDDING_IN", "New shims settle: the end float is checked again soon, as the schedule says for a re-shim."),
		}
	case SwivelPin:
		all = []vehicle.Reason{
			look("ON_STANDS", "Axle on stands, wheels on the ground chocked: a brake on the transfer-case output does not hold with a driven wheel raised."),
			look("NEW_PARTS", "Fit new locking tabs: one that was bent twice breaks, and a loose cap drops the wheel."),
		}
	case WheelHub:
		all = []vehicle.Reason{
			look("ON_STANDS", "Axle on stands, wheels on the ground chocked: a brake on the transfer-case output does not hold with a driven wheel raised or a half shaft out."),
			look("NEW_PARTS", "Fit new locking tabs and a new seal; what was staked is staked anew."),
		}
	default:
		all = []vehicle.Reason{look("NEW_PARTS", "Fit new locking tabs, gasket and seal wherever they were disturbed.")}
	}
	if !t.isFloat() {
		all = append(all, look("SLOPE_IS_LOCAL", "The slope holds near the window only, and friction of a seal is not preload: the load is worked out, not promised."))
	}
	return append(all, look("MEASURE_AGAIN", "Measure each shim before it is fitted, and the joint again when it is bolted up: that value is the one to record."))
}
