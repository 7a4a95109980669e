package schedulerpc

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// maxPartsAsked is how many parts one question may name.
const maxPartsAsked = 100

// ListPartsUsed implements the ScheduleService.
func (s *Service) ListPartsUsed(ctx context.Context, r *schedulev1.ListPartsUsedRequest) (*schedulev1.ListPartsUsedResponse, error) {
	asked, err := readPartsAsked(r)
	if err != nil {
		return nil, err
	}
	size, err := page.Size(r.GetPageSize(), standardPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	vehicles, err := s.partsUsed.vehicles(s.store, asked)
	if err != nil {
		return nil, err
	}
	resp, bytes, last := &schedulev1.ListPartsUsedResponse{}, 0, ""
	first, _, _ := strings.Cut(after, "/")
	from, _ := slices.BinarySearch(vehicles, vehicle.Serial(first))
	for i, serial := range vehicles[from:] {
		if i%64 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		uses, err := usesIn(s.store.History(serial), asked)
		if err != nil {
			return nil, err
		}
		for _, u := range uses {
			if after != "" && u.place <= after {
				continue
			}
			if len(resp.Uses) == size || bytes > pageBytes {
				resp.NextPageToken = page.Token(r, last)
				return resp, nil
			}
			resp.Uses, last = append(resp.Uses, u.PartUse), u.place
			bytes += proto.Size(u.PartUse)
		}
	}
	return resp, nil
}

// partsAsked is what a question about parts used asks for, as it is compared.
type partsAsked struct {
	parts map[string]bool // normal numbers, any of which counts; empty for any part
	lot   string          // folded; empty for any lot
}

func readPartsAsked(r *schedulev1.ListPartsUsedRequest) (partsAsked, error) {
	c := &checker{}
	asked := partsAsked{parts: map[string]bool{}, lot: build.Fold(r.GetLot())}
	c.must(len(r.GetParts()) > 0 || r.GetLot() != "", "parts", "", "a part number, unless a lot is given")
	c.must(len(r.GetParts()) <= maxPartsAsked, "parts", strconv.Itoa(len(r.GetParts())), "at most 100")
	for i, p := range r.GetParts() {
		number := build.Fold(p)
		c.must(number != "" && !fault.Longer(p, maxName), fmt.Sprintf("parts[%d]", i), p, "a part number")
		asked.parts[number] = true
	}
	c.must((r.GetLot() == "") == (asked.lot == "") && !fault.Longer(r.GetLot(), maxName), "lot", r.GetLot(), "a lot, as marked: letters or digits")
	return asked, c.err()
}

// meets says whether a part that went in is what was asked for.
func (a partsAsked) meets(used *schedulev1.PartUsed) bool {
	return (len(a.parts) == 0 || a.parts[build.Fold(used.GetPart())]) && (a.lot == "" || build.Fold(used.GetLot()) == a.lot)
}

// placedUse is a use and where it stands in the list, comparable as text.
type placedUse struct {
	*schedulev1.PartUse
	place string
}

// usesIn gives the uses of one vehicle that a question asks for, in order.
func usesIn(h *schedulestore.History, asked partsAsked) ([]placedUse, error) {
	entries, err := messages[schedulev1.ServiceEntry](h, schedulestore.Entries)
	if err != nil {
		return nil, fmt.Errorf("read a history: %w", err)
	}
	var uses []placedUse
	for _, e := range entries {
		for i, used := range usedIn(e) {
			if !asked.meets(used) {
				continue
			}
			owner, _, _ := strings.Cut(strings.TrimPrefix(e.GetName(), "vehicles/"), "/")
			uses = append(uses, placedUse{
				&schedulev1.PartUse{Vehicle: "vehicles/" + owner, ServiceEntry: e.GetName(), ServiceDate: e.GetServiceDate(), Used: used},
				fmt.Sprintf("%s/%s#%04d", owner, place(e), i),
			})
		}
	}
	return uses, nil
}

// usedIn gives the parts that went in with an entry that stands: those listed,
// and the shims of known number that the list leaves out.
func usedIn(e *schedulev1.ServiceEntry) []*schedulev1.PartUsed {
	if e.GetVoidReason() != "" {
		return nil
	}
	used := slices.Clip(e.GetParts())
	listed := map[string]bool{}
	for _, p := range used {
		listed[build.Fold(p.GetPart())] = true
	}
	for _, item := range e.GetItems() {
		for _, work := range item.GetShims() {
			for _, shim := range work.GetShims() {
				if number := build.Fold(shim.GetPart()); number != "" && !listed[number] {
					used = append(used, &schedulev1.PartUsed{Part: shim.GetPart(), Quantity: max(shim.GetCount(), 1)})
				}
			}
		}
	}
	return used
}
