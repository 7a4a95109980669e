package desk

import (
	"net/http"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

func shimUsed(c vehicle.Counted) *schedulev1.ShimUsed {
	return &schedulev1.ShimUsed{Thickness: vehiclewire.QuantityProto(c.Size), Count: int32(c.Count), Part: c.Part}
}

// serviceEntry finds the work that the address names.
func (v *visit) serviceEntry() (*schedulev1.ServiceEntry, error) {
	list, err := v.d.Schedules.ListServiceEntries(v.as(), &schedulev1.ListServiceEntriesRequest{Parent: v.vehicle(), LatestFirst: true, PageSize: 500})
	if err != nil {
		return nil, err
	}
	for _, e := range list.GetServiceEntries() {
		if bare(e.GetName()) == v.r.PathValue("entry") {
			return e, nil
		}
	}
	return nil, fault.New(fault.NotFound, "NO_ENTRY", "there is no such work on this vehicle")
}

// showEntry shows work that is on record, and where its items stand now.
func (v *visit) showEntry() {
	e, err := v.serviceEntry()
	if err != nil {
		v.refuse(err)
		return
	}
	v.entryPage(http.StatusOK, e, v.entryStrike(e))
}

func (v *visit) entryPage(status int, e *schedulev1.ServiceEntry, strike *form) {
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	done := block{Facts: []fact{{Label: "Done on", Value: civil(e.GetServiceDate())}}}
	for _, f := range []fact{{Label: "Odometer", Value: entered(e.GetReading())}, {Label: "By", Value: e.GetDoneBy()}, {Label: "Note", Value: e.GetNote()}} {
		if f.Value != "" {
			done.Facts = append(done.Facts, f)
		}
	}
	done.Facts = append(done.Facts, struckFacts(e)...)
	now := block{Heading: "Where the items stand now"}
	for _, i := range e.GetItems() {
		done.List = append(done.List, itemEntry(i, itemOf(x, i.GetItemId())))
		if s := itemOf(x, i.GetItemId()); s != nil {
			now.List = append(now.List, entry{Term: i.GetItemId(), Text: s.GetSentence()})
		} else {
			now.List = append(now.List, entry{Term: i.GetItemId(), Text: "It does not apply to this vehicle today: look whether another item was meant."})
		}
	}
	blocks := []block{done, now}
	if v.staff() && e.GetVoidReason() == "" {
		blocks = append(blocks, v.strikeBlock(e, strike))
	}
	v.ofVehicle(status, "work of "+civil(e.GetServiceDate()), blocks...)
}

// itemEntry is one item that was done, with what was measured.
func itemEntry(i *schedulev1.ItemDone, s *schedulev1.ItemStatus) entry {
	e := entry{Term: i.GetItemId(), Text: s.GetTitle(), Sub: i.GetNote()}
	var says []string
	for _, m := range i.GetMeasured() {
		says = append(says, quantityName(m.GetPosition(), m.GetCharacteristic())+": "+quantity(m.GetValue()))
	}
	for _, w := range i.GetShims() {
		var pack []string
		for _, u := range w.GetShims() {
			one := quantity(u.GetThickness())
			if u.GetCount() > 1 {
				one = wording.Count(int(u.GetCount()), "shim") + " of " + one
			}
			pack = append(pack, one)
		}
		text := "Shims now " + strings.Join(pack, " + ")
		if w.GetPackBefore() != nil {
			text += ", in place of a pack of " + quantity(w.GetPackBefore())
		}
		if w.GetMeasuredAfter() != nil {
			text += "; " + place(w.GetCharacteristic()) + " with them " + quantity(w.GetMeasuredAfter())
		}
		if w.GetMeasuredBefore() != nil {
			text += ", before " + quantity(w.GetMeasuredBefore())
		}
		says = append(says, text)
	}
	e.Sub = strings.TrimSpace(strings.Join(append(says, e.Sub), ". "))
	return e
}
