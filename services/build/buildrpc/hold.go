package buildrpc

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"google.golang.org/grpc"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Bulletins is what is asked of the bulletins before a vehicle leaves the works:
// which hold delivery back, and which of them hold for a vehicle. A
// bulletinv1.BulletinServiceClient is one.
type Bulletins interface {
	ListBulletins(ctx context.Context, r *bulletinv1.ListBulletinsRequest, _ ...grpc.CallOption) (*bulletinv1.ListBulletinsResponse, error)
	ListVehicleBulletins(ctx context.Context, r *bulletinv1.ListVehicleBulletinsRequest, _ ...grpc.CallOption) (*bulletinv1.ListVehicleBulletinsResponse, error)
}

// holds keeps vehicles in the works that a bulletin holds there.
//
// A bulletin holds from the day on which it is issued: what was delivered before
// the earliest hold that there was when the bulletins were last asked, and before
// that day, is held by nothing that was issued since. So history is recorded
// without asking for each vehicle of it. Bulletins that are imported have earlier
// days: the bulletins are asked anew after a while.
type holds struct {
	bulletins Bulletins // nil: there are none
	now       func() time.Time

	mu    sync.Mutex
	free  vehicle.Date // deliveries before it are held by nothing
	until time.Time    // as far as is known until then
}

const (
	holdPatience = 5 * time.Second  // how long the bulletins are waited for
	holdsKnown   = 10 * time.Minute // how long it is remembered which days are free
)

// recorded is what is on record of a vehicle that is to leave.
type recorded int

const (
	nothing recorded = iota // it is a new one
	another                 // its record is to be changed beside the day of delivery
	itself                  // its record is as it will be, but for that day
)

// check refuses a delivery on a day on which a bulletin holds the vehicle back.
func (h *holds) check(ctx context.Context, serial vehicle.Serial, on vehicle.Date, is recorded) error {
	if h.bulletins == nil || on.IsZero() || h.passes(on) {
		return nil
	}
	ctx, cancel := context.WithTimeout(access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "build"}), holdPatience)
	defer cancel()
	holding, err := h.holding(ctx, on)
	if err != nil || len(holding) == 0 {
		return unasked(serial, err)
	}
	named := map[string]bool{}
	if is != nothing {
		if err := h.ofRecord(ctx, serial, on, named); err != nil {
			return err
		}
	}
	if is == itself {
		return nil
	}
	return ofNew(serial, holding, named)
}

func (h *holds) passes(on vehicle.Date) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return on.Before(h.free) && h.now().Before(h.until)
}

// holding gives the bulletins that hold delivery back on a day, and remembers
// up to which day none does.
func (h *holds) holding(ctx context.Context, on vehicle.Date) ([]*bulletinv1.Bulletin, error) {
	asked := h.now()
	free := vehicle.DateOf(asked.UTC()).AddDays(-1) // another process's midnight may be later
	var out []*bulletinv1.Bulletin
	err := page.Each(func(token string) ([]*bulletinv1.Bulletin, string, error) {
		r, err := h.bulletins.ListBulletins(ctx, &bulletinv1.ListBulletinsRequest{
			States: []bulletinv1.BulletinState{bulletinv1.BulletinState_BULLETIN_STATE_ISSUED}, PageSize: 500, PageToken: token,
		})
		return r.GetBulletins(), r.GetNextPageToken(), err
	}, func(b *bulletinv1.Bulletin) error {
		if !b.GetHoldDelivery() {
			return nil
		}
		from, err := vehiclewire.Date(b.GetHoldFromDate())
		if from.Before(free) {
			free = from
		}
		if !from.After(on) {
			out = append(out, b)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.free, h.until = free, asked.Add(holdsKnown)
	return out, nil
}

// ofRecord asks which bulletins hold a vehicle of which there is a record. named
// gets those that are for it, whether they still hold it or not.
func (h *holds) ofRecord(ctx context.Context, serial vehicle.Serial, on vehicle.Date, named map[string]bool) error {
	var held []string
	err := page.Each(func(token string) ([]*bulletinv1.VehicleBulletin, string, error) {
		r, err := h.bulletins.ListVehicleBulletins(ctx, &bulletinv1.ListVehicleBulletinsRequest{Parent: "vehicles/" + string(serial), PageSize: 500, PageToken: token})
		return r.GetVehicleBulletins(), r.GetNextPageToken(), err
	}, func(b *bulletinv1.VehicleBulletin) error {
		named[bulletinID(b.GetBulletin())] = true
		from, err := heldFrom(b)
		if err == nil && !from.IsZero() && !from.After(on) {
			held = append(held, heldBy(b.GetBulletin(), from))
		}
		return err
	})
	if err != nil {
		return unasked(serial, err)
	}
	if len(held) == 0 {
		return nil
	}
	return fault.New(fault.FailedPrecondition, "DELIVERY_HELD", "%s is not to leave the works on %s. %s", serial, on.Long(), strings.Join(held, " "))
}

// heldFrom gives the day from which a bulletin holds a vehicle; zero where it
// does not, or no longer.
func heldFrom(b *bulletinv1.VehicleBulletin) (vehicle.Date, error) {
	f := b.GetFollowUp()
	if !b.GetBulletin().GetHoldDelivery() || f != nil && !f.GetHoldDelivery() {
		return vehicle.Date{}, nil
	}
	from, err := vehiclewire.Date(b.GetBulletin().GetHoldFromDate())
	if err != nil || f == nil {
		return from, err
	}
	entered, err := vehiclewire.Date(f.GetEnterDate())
	if entered.After(from) {
		from = entered
	}
	return from, err
}

// heldBy says which bulletin holds, since when, and what ends it.
func heldBy(b *bulletinv1.Bulletin, from vehicle.Date) string {
	ends := "Do the remedy and record it on the list of the campaign, or withdraw the bulletin."
	if b.GetKind() != bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN {
		ends = "Put right what it is about, so that it is no longer for this vehicle, or withdraw it."
	}
	return fmt.Sprintf("%s, %s, holds delivery since %s. %s", bulletinID(b), b.GetTitle(), from.Long(), ends)
}

// bulletinID gives the identifier of a version: "C-2026-02".
func bulletinID(b *bulletinv1.Bulletin) string {
	id, _, _ := strings.Cut(strings.TrimPrefix(b.GetName(), "bulletins/"), "/")
	return id
}

// ofNew decides about a vehicle whose record is not stored as it will be: of the
// bulletins that were not named only the lists of serials can be looked at.
func ofNew(serial vehicle.Serial, holding []*bulletinv1.Bulletin, named map[string]bool) error {
	for _, b := range holding {
		set := b.GetSet()
		switch {
		case named[bulletinID(b)], contains(set.GetExceptSerials(), serial):
		case contains(set.GetSerials(), serial):
			from, err := vehiclewire.Date(b.GetHoldFromDate())
			if err != nil {
				return err
			}
			return fault.New(fault.FailedPrecondition, "DELIVERY_HELD", "%s is not to leave the works. %s", serial, heldBy(b, from))
		case set.GetCondition() != nil:
			return fault.New(fault.FailedPrecondition, "HOLD_NOT_TOLD",
				"%s, %s, holds delivery, and whether it is for %s can be told only from the record as it will be: record that without a new day of delivery first, then amend the day.",
				bulletinID(b), b.GetTitle(), serial)
		}
	}
	return nil
}

func contains(serials []string, serial vehicle.Serial) bool {
	for _, s := range serials {
		if vehicle.Serial(s) == serial {
			return true
		}
	}
	return false
}

// unasked is the refusal of a delivery of which the bulletins could not be asked.
func unasked(serial vehicle.Serial, err error) error {
	if err == nil {
		return nil
	}
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "HOLDS_OUT_OF_REACH", RetryAfter: 2 * time.Second, Cause: err,
		Message: fmt.Sprintf("whether %s may leave the works cannot be asked of the bulletins now: nothing was recorded, try again, or record it without the day of delivery", serial),
	}
}

// besideDelivery says what an amendment leaves of the record that is stored.
func besideDelivery(fields []build.AmendedField) recorded {
	if len(fields) == 1 && fields[0].Path == "delivery_date" {
		return itself
	}
	return another
}
