package warranty_test

import (
	"slices"
	"testing"

	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

func TestChangesOfOwner(t *testing.T) {
	tie := func(person, start, end string, role owner.Role) owner.Tie {
		x := owner.Tie{Person: person, Role: role, Start: day(start)}
		if end != "" {
			x.End = day(end)
		}
		return x
	}
	for name, c := range map[string]struct {
		ties    []owner.Tie
		want    []string
		unknown bool
	}{
		"nobody on record":      {nil, nil, true},
		"one owner since":       {[]owner.Tie{tie("a", "2026-03-03", "", owner.Owner)}, nil, false},
		"one owner from before": {[]owner.Tie{tie("a", "2025-11-01", "", owner.Owner)}, nil, false},
		"sold":                  {[]owner.Tie{tie("b", "2026-06-01", "", owner.Owner), tie("a", "2026-03-03", "2026-06-01", owner.Owner)}, []string{"2026-06-01"}, false},
		"sold twice": {[]owner.Tie{tie("a", "2026-03-03", "2026-06-01", owner.Owner), tie("b", "2026-06-01", "2026-08-01", owner.Owner), tie("c", "2026-08-01", "", owner.Owner)},
			[]string{"2026-06-01", "2026-08-01"}, false},
		"with days between":    {[]owner.Tie{tie("a", "2026-03-03", "2026-06-01", owner.Owner), tie("b", "2026-06-20", "", owner.Owner)}, []string{"2026-06-20"}, false},
		"sold to nobody known": {[]owner.Tie{tie("a", "2026-03-03", "2026-06-01", owner.Owner)}, nil, true},
		"somebody joins":       {[]owner.Tie{tie("a", "2026-03-03", "", owner.Owner), tie("b", "2026-06-01", "", owner.Owner)}, nil, false},
		"handed over in steps": {[]owner.Tie{tie("a", "2026-03-03", "2026-07-01", owner.Owner), tie("b", "2026-06-01", "", owner.Owner)}, nil, false},
		"sold on after a step": {[]owner.Tie{tie("a", "2026-03-03", "2026-07-01", owner.Owner), tie("b", "2026-06-01", "2026-08-01", owner.Owner), tie("a", "2026-08-01", "", owner.Owner)},
			[]string{"2026-08-01"}, false},
		"one of two leaves":           {[]owner.Tie{tie("a", "2026-03-03", "2026-06-01", owner.Owner), tie("b", "2026-03-03", "", owner.Owner)}, nil, false},
		"a caretaker is no owner":     {[]owner.Tie{tie("a", "2026-03-03", "", owner.Owner), tie("b", "2026-06-01", "", owner.Caretaker)}, nil, false},
		"an owner before delivery":    {[]owner.Tie{tie("z", "2025-01-01", "2026-02-01", owner.Owner), tie("a", "2026-03-03", "", owner.Owner)}, nil, false},
		"comes back to the first":     {[]owner.Tie{tie("a", "2026-03-03", "2026-06-01", owner.Owner), tie("a", "2026-06-05", "", owner.Owner)}, nil, false},
		"an executor between":         {[]owner.Tie{tie("a", "2026-03-03", "2026-06-01", owner.Owner), tie("x", "2026-06-01", "2026-07-01", owner.Executor), tie("b", "2026-07-01", "", owner.Owner)}, []string{"2026-07-01"}, false},
		"a tie that ended on its day": {[]owner.Tie{tie("a", "2026-03-03", "", owner.Owner), tie("b", "2026-06-01", "2026-06-01", owner.Owner)}, nil, false},
	} {
		t.Run(name, func(t *testing.T) {
			got, unknown := OwnerChanges(c.ties, day("2026-03-03"), day("2030-01-01"))
			var days []string
			for _, d := range got {
				days = append(days, d.String())
			}
			if !slices.Equal(days, c.want) || unknown != c.unknown {
				t.Errorf("got %v, %v", days, unknown)
			}
		})
	}
	if _, unknown := OwnerChanges(nil, vehicle.Date{}, vehicle.Date{}); !unknown {
		t.Error("without a delivery somebody is known")
	}
}
