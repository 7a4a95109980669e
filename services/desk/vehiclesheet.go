package desk

import (
	"cmp"
	"slices"
	"strings"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"

	"halfshaft/services/wording"
)

// allSample is said once where it would stand at each value.
const allSample = "Each value is a sample, to be signed by the works' engineer."

// sheetBlocks are the fluids and settings of a vehicle, by where they belong.
func sheetBlocks(s *partsv1.TechnicalSheet) []block {
	fluids := &table{Caption: "Fluids", Heads: []string{"Where", "How much of what", "How"}, Empty: "The technical data have none for it."}
	settings := &table{Caption: "Settings", Heads: []string{"What", "Value", "How"}, Empty: "The technical data have none for it."}
	samples := !slices.ContainsFunc(s.GetFluids(), func(f *partsv1.SheetFluid) bool { return !f.GetCapacity().GetSample() }) &&
		!slices.ContainsFunc(s.GetSettings(), func(x *partsv1.SheetSetting) bool { return !x.GetSetting().GetSample() })
	for _, f := range s.GetFluids() {
		fluids.Rows = append(fluids.Rows, fluidRow(f.GetCapacity(), samples))
	}
	fluids.Rows = alikeOnce(fluids.Rows)
	to := block{Anchor: "top", Links: []link{{Label: "Fluids", Path: "#fluids"}, {Label: "Settings", Path: "#settings"}}}
	all := slices.Clone(s.GetSettings())
	slices.SortStableFunc(all, func(a, b *partsv1.SheetSetting) int {
		return cmp.Compare(a.GetSetting().GetPosition(), b.GetSetting().GetPosition())
	})
	last := ""
	for n, x := range all {
		if at := x.GetSetting().GetPosition(); n == 0 || at != last {
			anchor := "settings-" + at
			to.Links = append(to.Links, link{Label: wording.UpperFirst(place(at)), Path: "#" + anchor})
			settings.Rows, last = append(settings.Rows, []cell{{Text: wording.UpperFirst(place(at)), Over: true, Anchor: anchor}}), at
		}
		settings.Rows = append(settings.Rows, settingRow(x, samples))
	}
	back := []link{{Label: "Back to the top", Path: "#top"}}
	blocks := []block{{Heading: "Fluids", Anchor: "fluids", Table: fluids, Links: back}, {Heading: "Settings", Anchor: "settings", Table: settings, Links: back}}
	if samples && len(s.GetFluids())+len(all) > 0 {
		blocks[0].Text = []string{allSample}
	}
	return append([]block{to}, blocks...)
}

// alikeOnce puts rows into one that stand below each other and say the same of
// different places, as of the four hubs.
func alikeOnce(rows [][]cell) (out [][]cell) {
	alike := func(a, b []cell) bool {
		return a[1].Text == b[1].Text && a[1].Sub == b[1].Sub && a[2].Text == b[2].Text && a[2].Sub == b[2].Sub
	}
	for i := 0; i < len(rows); {
		one, n := slices.Clone(rows[i]), 1
		for ; i+n < len(rows) && alike(rows[i], rows[i+n]); n++ {
			one[0].Text += ", " + wording.LowerFirst(rows[i+n][0].Text)
		}
		if n > 1 {
			one[1].Text += ", for each"
		}
		out, i = append(out, one), i+n
	}
	return out
}

func fluidRow(c *partsv1.Capacity, samples bool) []cell {
	what := cell{Text: quantity(c.GetQuantity()) + " of " + c.GetFluid() + sample(c.GetSample() && !samples)}
	if len(c.GetNeverMix()) > 0 {
		what.Sub = "Never mix with " + place(strings.Join(c.GetNeverMix(), " or ")) + "."
	}
	return []cell{{Text: wording.UpperFirst(place(c.GetPosition()))}, what, how(c.GetMethod(), c.GetCaution())}
}

func settingRow(x *partsv1.SheetSetting, samples bool) []cell {
	s := x.GetSetting()
	what := cell{Text: wording.UpperFirst(place(s.GetCharacteristic()))}
	if s.GetSubject() != "" {
		what.Text += ", " + s.GetSubject()
	}
	return []cell{what, {Text: x.GetWindow() + sample(s.GetSample() && !samples)}, how(s.GetMethod(), s.GetCaution())}
}

// how is a method, with what can hurt below it.
func how(method, caution string) cell {
	c := cell{Text: wording.Ended(wording.UpperFirst(method))}
	if caution != "" {
		c.Sub = "Caution: " + caution
	}
	return c
}
