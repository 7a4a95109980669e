package accessgate_test

import (
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/internal/throttle"
)

// What an owner or a dealer changes stays for years, with its line in the audit.
func TestWhoChangesVeryMuchWaitsByWhateverWayTheyCome(t *testing.T) {
	machine := handclock.At(today)
	d := newDoorOf(t, accessgate.Config{Limits: accessgate.Limits{Changes: throttle.Rate{Every: 10 * time.Second, Burst: 3}}, Machine: machine.Now})
	owner := access.NewContext(t.Context(), access.Caller{Role: access.Owner, Bearer: "owner, by a link", Person: ownPerson, Credential: "link"})
	hal := access.NewContext(t.Context(), access.Caller{Role: access.Dealer, Bearer: "hal", Organisation: ferncombe, Account: "accounts/hal"})
	pages := accessgate.Forward(d.server.InProcess(), "")
	record := func(over grpc.ClientConnInterface, as access.Role) error {
		ctx, serial := owner, ownSerial
		switch as {
		case access.Dealer:
			ctx, serial = hal, assignedSerial
		case access.Support:
			ctx = access.NewContext(t.Context(), access.Caller{Role: access.Support, Bearer: "ida", Account: "accounts/ida"})
		}
		_, err := schedulev1.NewScheduleServiceClient(over).RecordReading(ctx, &schedulev1.RecordReadingRequest{Parent: "vehicles/" + string(serial)})
		return err
	}
	key := d.as(access.Owner)
	for i, over := range []grpc.ClientConnInterface{key, pages, key} {
		if err := record(over, access.Owner); status.Code(err) != codes.Unimplemented { // through the gate
			t.Fatalf("change %d: %v", i+1, err)
		}
	}
	wait := comeBack(t, record(key, access.Owner), "TOO_MANY_CHANGES")
	comeBack(t, record(pages, access.Owner), "TOO_MANY_CHANGES")
	if _, err := schedulev1.NewScheduleServiceClient(key).ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: "vehicles/" + string(ownSerial)}); status.Code(err) != codes.Unimplemented {
		t.Errorf("looking: %v", err)
	}
	for range 10 {
		if err := record(pages, access.Support); status.Code(err) != codes.Unimplemented {
			t.Fatalf("the works: %v", err)
		}
	}
	if err := record(pages, access.Dealer); status.Code(err) != codes.Unimplemented {
		t.Errorf("somebody else: %v", err)
	}
	machine.Move(wait)
	if err := record(key, access.Owner); status.Code(err) != codes.Unimplemented {
		t.Errorf("when the time has come: %v", err)
	}
}
