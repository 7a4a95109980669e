package desk

import (
	"context"
	"fmt"
	"strconv"
	"testing"

	"google.golang.org/grpc"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
)

// longLived is the schedule service of a vehicle with many readings.
type longLived struct {
	schedulev1.ScheduleServiceClient
	readings int
}

func (s longLived) ListReadings(_ context.Context, r *schedulev1.ListReadingsRequest, _ ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	from, _ := strconv.Atoi(r.GetPageToken())
	out := &schedulev1.ListReadingsResponse{}
	for n := from; n < min(s.readings, from+int(r.GetPageSize())); n++ {
		out.Readings = append(out.Readings, &schedulev1.Reading{Name: fmt.Sprintf("vehicles/AM0147P/readings/r%d", n)})
	}
	if next := from + len(out.GetReadings()); next < s.readings {
		out.NextPageToken = strconv.Itoa(next)
	}
	return out, nil
}

// A reading is reported each week for ten years and more. The last of them, which
// is in doubt, is found and shown.
func TestTheLastOfManyReadingsIsFoundAndShown(t *testing.T) {
	v := sent(nil)
	v.d.Schedules, v.signed = longLived{readings: 620}, &Signed{}
	v.d.As = func(ctx context.Context, _ Signed) context.Context { return ctx }
	v.r.SetPathValue("serial", "AM0147P")
	v.r.SetPathValue("reading", "r619")
	if r, err := v.reading(); err != nil || r.GetName() != "vehicles/AM0147P/readings/r619" {
		t.Errorf("got %v, %v", r, err)
	}
	all, err := v.readings()
	if err != nil {
		t.Fatal(err)
	}
	if rows := v.readingsTable(all).Rows; len(all) != 620 || len(rows) != mostReadings {
		t.Errorf("%d readings, %d shown", len(all), len(rows))
	}
}
