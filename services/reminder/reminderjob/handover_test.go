package reminderjob

import (
	"testing"
	"time"

	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// A change of owner cuts the ties on the day in UTC: two hours later it is still
// the day before in Honolulu, and the former owner there gets nothing any more.
func TestAFormerOwnerWestOfUTCIsToldNothing(t *testing.T) {
	o := newOffice(t)
	o.now = time.Date(2026, 5, 18, 2, 0, 0, 0, time.UTC) // 16:00 on the 17th there
	o.town.vehicle(serial(1), item("E01", today))
	for _, p := range []string{"former", "present"} {
		o.town.owner(serial(1), p).TimeZone = "Pacific/Honolulu"
	}
	handed, ties := vehiclewire.DateProto(vehicle.DateOf(o.now)), o.town.ties[string(serial(1))]
	ties[0].StartDate, ties[0].EndDate = vehiclewire.DateProto(vehicle.MustDate(2020, 1, 1)), handed
	ties[1].StartDate = handed
	r := o.run(t)
	if len(r.Notices) != 1 || r.Notices[0].Person != "present" {
		t.Errorf("told %+v, want the present owner alone", r.Notices)
	}
}
