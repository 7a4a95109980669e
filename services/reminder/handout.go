package reminder

import (
	"cmp"
	"slices"
	"strconv"

	"halfshaft/services/vehicle"
)

// Handout is what an item is that stands for a handbook that somebody asked for.
// Such an item is in no schedule and no pass selects it: whoever asks for it has
// it claimed then and there.
//
// Nothing that silences reminders holds it. It goes only by the ways that the
// person wants to be written to, by text message only if they agreed to those.
type Handout struct {
	Issue    int          // the number of the issue
	Title    string       // what the handbook is called; "" when not known
	Date     vehicle.Date // the day for which it was made
	Changes  int          // sections that are not as in the issue before
	Language string       // BCP 47 tag of what it is written in; "" when not known
}

// handoutItem is the identifier of such items, which no item of a programme has.
const handoutItem = "HANDBOOK"

// HandoutItem is the item of a handbook. Its round is named after the issue and
// the request, "HANDBOOK.3-1f0c9a2b", so that what is asked for again is sent
// again, and one request sends it once to each person.
func HandoutItem(h Handout, request string, today vehicle.Date) Item {
	return Item{
		ID: handoutItem, Cycle: handoutItem + "." + strconv.Itoa(h.Issue) + "-" + Reference(request)[:8],
		Title: cmp.Or(h.Title, "Handbook"), Sentence: "Issue " + strconv.Itoa(h.Issue) + ", which was asked for.", ActBy: today, Handout: &h,
	}
}

// HandoutTo gives the drafts that send a handbook: to one person, or with "" to
// everybody who owns the vehicle or looks after the estate; by one channel, or
// with "" by the first that each person wants. Whoever only pays for the vehicle
// gets none. missed says of everybody else who was meant why nothing goes to
// them, by person.
func (c Case) HandoutTo(item Item, person string, by Channel) (drafts []Draft, missed map[string]string) {
	missed = map[string]string{}
	told := c.Vehicle
	told.Items = nil
	for _, r := range c.People {
		owns := r.Role == "owner" || r.Role == "executor"
		if r.Role == "payer" || person != r.Person && (person != "" || !owns) {
			continue
		}
		way := by
		if by == "" && len(r.Asked) > 0 {
			way = r.Asked[0]
		}
		reason, ok := c.Allowed(r, Handbook)
		switch {
		case !ok:
			missed[r.Person] = reason
		case !slices.Contains(r.Asked, way):
			missed[r.Person] = NoWay
		default:
			drafts = append(drafts, Draft{
				Vehicle: told, To: r, Channel: way, Stage: Due, Lines: []Line{{Item: item, Stage: Due}}, Purpose: Handbook,
			})
		}
	}
	return drafts, missed
}
