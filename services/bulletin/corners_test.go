package bulletin_test

import (
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/bulletin"
	"halfshaft/services/vehicle"
)

// Corners that the random worlds seldom meet.

func TestCornersOfASet(t *testing.T) {
	relay := func(part, lot, serial string) build.Component {
		return build.Component{Part: part, Lot: lot, Serial: serial}
	}
	condemned := relays(false) // of which the remedy's own part is bad
	condemned.Set.When = &bulletin.Condition{Fitted: &bulletin.FittedUnit{Position: "steering-relay", Parts: []string{"AP-3009"}, Lots: []string{"M1"}}}
	single := bulletinFor(bulletin.Set{When: &bulletin.Condition{All: []bulletin.Condition{{Markets: []string{"FR"}}}}})
	for _, c := range []struct {
		name  string
		b     bulletin.Bulletin
		story func(t *testing.T, y *yard) vehicle.Serial
		want  bulletin.MatchState
		cured bool
		loose int
	}{
		{"records that do not agree on a lot lend none", relays(false), func(t *testing.T, y *yard) vehicle.Serial {
			a, b, c := y.built("R2", "L07", "T9"), y.built("R2", "L01", ""), y.built("R2", "L01", "")
			y.moves(t, a, b, day(2022, 1, 1))
			y.changes[b][0].Component.Lot = "L02"
			y.moves(t, b, c, day(2023, 1, 1))
			y.changes[c][0].Component.Lot = ""
			return c
		}, bulletin.Unknown, false, 0},
		{"a campaign took it off, and service fitted the part of the remedy", relays(false), func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L07", "T9")
			y.change(s, build.Change{Kind: build.Remove, Source: build.SourceCampaign, Date: day(2025, 1, 1), Component: build.Component{Position: "steering-relay"}})
			y.fits(s, day(2025, 2, 1), build.SourceService, relay("AP-3009", "M1", ""))
			return s
		}, bulletin.Near, false, 1},
		{"all of a single condition is not near", single, func(_ *testing.T, y *yard) vehicle.Serial { return y.built("R2", "L07", "") }, bulletin.Out, false, 0},
		{"a unit whose lot an overhaul corrected is on no shelf", relays(false), func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L07", "")
			y.change(s, build.Change{Kind: build.Overhaul, Date: day(2025, 1, 1), Component: build.Component{Position: "steering-relay", Lot: "L01"}})
			return s
		}, bulletin.Near, false, 0},
		{"service fitted the remedy's part, and whoever ever had the lot is meant", relays(true), func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L07", "T9")
			y.fits(s, day(2026, 5, 1), build.SourceService, relay("AP-3009", "M1", ""))
			return s
		}, bulletin.In, false, 1},
		{"a campaign fitted what is itself condemned", condemned, func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L01", "")
			y.fits(s, day(2026, 5, 1), build.SourceCampaign, relay("AP-3009", "M1", ""))
			return s
		}, bulletin.In, false, 0},
		{"a campaign fitted the remedy of another lot", condemned, func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L01", "")
			y.fits(s, day(2026, 5, 1), build.SourceCampaign, relay("AP-3009", "M1", ""))
			y.fits(s, day(2026, 6, 1), build.SourceCampaign, relay("AP-3009", "M2", ""))
			return s
		}, bulletin.In, true, 1},
		{"a unit that was fitted elsewhere without a move is on no shelf", relays(false), func(_ *testing.T, y *yard) vehicle.Serial {
			a, b := y.built("R2", "L07", "T9"), y.built("R2", "L01", "")
			y.fits(a, day(2024, 5, 1), build.SourceService, relay("AP-3001", "L02", ""))
			y.fits(b, day(2024, 6, 1), build.SourceService, relay("AP-3001", "", "t-9"))
			return b
		}, bulletin.In, false, 0},
	} {
		y := newYard()
		s := c.story(t, y)
		f, ready := y.fleet(t), prepare(t, c.b)
		m, _ := ready.Match(f, s)
		if m.State != c.want || (m.Cure != nil) != c.cured {
			t.Errorf("%s: got %v, cured %v: %s", c.name, m.State, m.Cure != nil, m.Sentence())
		}
		if p := ready.Preview(f); len(p.Loose) != c.loose {
			t.Errorf("%s: %d loose units, want %d: %+v", c.name, len(p.Loose), c.loose, p.Loose)
		}
	}
}

func TestCornersOfAFollowUp(t *testing.T) {
	today := day(2026, 11, 25)
	wrong := record(t, entry(entered), today, remedied(t, day(2026, 5, 2), "0.2 mm"), did(bulletin.StepFoundWrong, day(2026, 6, 1)))
	if st := wrong.Standing(); !st.DoneOn.IsZero() {
		t.Errorf("found wrong, and done on %v", st.DoneOn)
	}
	refused := record(t, entry(entered), today, did(bulletin.StepRefused, day(2026, 5, 2)), did(bulletin.StepNotified, day(2026, 6, 2)))
	if st := refused.Standing(); st.State != bulletin.Refused || st.NotifiedLast != day(2026, 6, 2) {
		t.Errorf("an owner who refused and was told again: %+v", st)
	}
	seen := bulletin.Seen{Scrapped: day(2026, 5, 2)}
	back := entry(entered)
	back.Steps = append(back.Steps, back.Observe(seen, today, at(today))...)
	back = record(t, back, today, did(bulletin.StepReopened, today))
	if steps := back.Observe(seen, today, at(today)); len(steps) > 0 {
		t.Errorf("what a person opened again, the same record closes: %+v", steps)
	}
	b := relays(false)
	b.Issued = entered
	late := record(t, entry(entered), today, did(bulletin.StepNotified, day(2026, 4, 1)), remedied(t, day(2026, 3, 20), "0.2 mm"))
	r := bulletin.ReportOn(&b, []bulletin.FollowUp{late}, today)
	if n := len(r.Curve); n != 2 || r.Curve[1].On != day(2026, 3, 20) || r.Curve[1].Completed != 1 || r.Curve[1].Vehicles != 1 {
		t.Errorf("a remedy that was reported late: %+v", r.Curve)
	}
	first := record(t, entry(entered), today, remedied(t, day(2026, 4, 1), "0.2 mm"))
	q := bulletin.QuarterReport(&b, []bulletin.FollowUp{first}, bulletin.Quarter{Year: 2026, Number: 2})
	if q.InQuarter.Remedied != 1 || q.InQuarter.Vehicles != 0 {
		t.Errorf("done on the first day of the quarter: %+v", q.InQuarter)
	}
}
