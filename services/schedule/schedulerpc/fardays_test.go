package schedulerpc_test

import (
	"fmt"
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

// Of each year that is asked about, the habits of the whole fleet are worked
// out, and whoever asks meanwhile waits.
func TestAnOwnerOrADealerAsksAboutTheYearsAroundThisOne(t *testing.T) {
	w := withFloat(t)
	const year = 2026 // by the clock of the works
	asks := map[string]func(on string) error{
		"the schedule": func(on string) error {
			_, err := w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: theVehicle + "/schedule", OnDate: calendar(on)})
			return err
		},
		"the plan": func(on string) error {
			_, err := w.GetVisitPlan(t.Context(), &schedulev1.GetVisitPlanRequest{Name: theVehicle + "/visitPlan", OnDate: calendar(on)})
			return err
		},
		"the series": func(on string) error {
			_, err := w.ListMeasuredSeries(t.Context(), &schedulev1.ListMeasuredSeriesRequest{Parent: theVehicle, OnDate: calendar(on)})
			return err
		},
	}
	for name, ask := range asks {
		for _, c := range []struct {
			years int
			day   string
			may   bool
		}{{-2, "12-31", false}, {-1, "01-01", true}, {0, "06-01", true}, {1, "12-31", true}, {2, "01-01", false}} {
			on := fmt.Sprintf("%d-%s", year+c.years, c.day)
			w.byDealer(ferncombe, "ida")
			dealers := ask(on)
			w.byOwner()
			owners := ask(on)
			w.byStaff()
			staffs := ask(on)
			for who, err := range map[string]error{"a dealer": dealers, "an owner": owners} {
				if c.may && err != nil {
					t.Errorf("%s asks for %s on %s: %v", who, name, on, err)
				} else if !c.may {
					refused(t, err, fault.Invalid, "INVALID_FIELD")
				}
			}
			if staffs != nil {
				t.Errorf("the works asks for %s on %s: %v", name, on, staffs)
			}
		}
	}
}
