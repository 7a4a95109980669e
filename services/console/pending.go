package console

import (
	"fmt"
	"strings"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
)

// fate is what becomes of some items alike.
type fate struct {
	sentence string
	lines    []*reminderv1.PendingLine
}

// fates puts items together of which the same is to be said, the first first.
func fates(lines []*reminderv1.PendingLine) []*fate {
	var all []*fate
	of := map[string]*fate{}
	for _, l := range lines {
		f := of[l.GetSentence()]
		if f == nil {
			f = &fate{sentence: l.GetSentence()}
			of[f.sentence] = f
			all = append(all, f)
		}
		f.lines = append(f.lines, l)
	}
	return all
}

// pendingOf hands over the items of each vehicle and person in turn, which
// follow each other, and says so when there are none.
func pendingOf(s *sheet, lines []*reminderv1.PendingLine, take func([]*fate)) {
	if len(lines) == 0 {
		s.line("Nothing comes up.")
	}
	for first := 0; first < len(lines); {
		vehicle, person := lines[first].GetVehicle(), lines[first].GetPerson()
		var same []*reminderv1.PendingLine
		next := first
		for ; next < len(lines) && lines[next].GetVehicle() == vehicle && lines[next].GetPerson() == person; next++ {
			same = append(same, lines[next])
		}
		switch {
		case person != "":
			s.line("%s  %s", idOf(vehicle), idOf(person))
		case same[0].GetItemId() == "": // of the vehicle as a whole
			s.line("%s", idOf(vehicle))
		default:
			s.line("%s  nobody", idOf(vehicle))
		}
		take(fates(same))
		first = next
	}
}

// pendingLines prints what becomes of each item, item by item.
func pendingLines(s *sheet, lines []*reminderv1.PendingLine) {
	pendingOf(s, lines, func(all []*fate) {
		for _, f := range all {
			s.text("    ", f.sentence)
			var rows [][]string
			for _, l := range f.lines {
				if l.GetItemId() == "" {
					continue
				}
				rows = append(rows, []string{l.GetItemId(), l.GetTitle(), "by " + day(l.GetActByDate())})
			}
			s.table("        ", rows)
		}
	})
}

// pendingBriefly prints what becomes of the items by their identifiers.
func pendingBriefly(s *sheet, lines []*reminderv1.PendingLine) {
	pendingOf(s, lines, func(all []*fate) {
		for _, f := range all {
			if f.lines[0].GetItemId() == "" {
				s.text("    ", f.sentence)
				continue
			}
			s.text("    ", f.briefly()+": "+f.sentence)
		}
	})
}

// briefly names the items: "E01, S03 by 8 May 2026; W03 by 1 June 2026".
func (f *fate) briefly() string {
	var text strings.Builder
	last := ""
	for i, l := range f.lines {
		by := day(l.GetActByDate())
		switch {
		case i == 0:
		case by == last:
			text.WriteString(", ")
		default:
			fmt.Fprintf(&text, " by %s; ", last)
		}
		text.WriteString(l.GetItemId())
		last = by
	}
	return text.String() + " by " + last
}
