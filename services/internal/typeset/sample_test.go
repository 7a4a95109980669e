package typeset

import (
	"fmt"
	"strings"

	"halfshaft/services/internal/figure"
)

// sample is a document with one of everything, about an invented vehicle.
func sample() Document {
	return Document{
		Title: "Owner's handbook for AM0147P", Edition: "Issue 3 of 5 April 2027", Head: "AM0147P handbook", Language: "en",
		Cover: &Cover{
			Name: "Aldermoor Works",
			Rows: []Definition{
				{Term: "Serial", Text: Bold("AM0147P")},
				{Term: "Release", Text: Words("R4, with unsynchronised first and second")},
				{Term: "Left the works", Text: Words("14 May 2024")},
			},
			Small: []Runs{Words("Aldermoor Works, 1 Mill Lane, Aldermoor. Telephone +44 1632 960100. Keep this book in the door pocket.")},
		},
		Blocks: append([]Block{
			Contents{Title: "Contents", Depth: 2},
			PageBreak{Front: true},
		}, body()...),
	}
}

const prose = "Let the engine idle until the oil pressure has settled, then drive off gently: a cold gearbox wants a pause between one gear and the next, and the pause gets shorter as the oil warms. Nothing is gained by revving a cold engine, and a good deal of wear comes of it."

func body() []Block {
	return []Block{
		Heading{Level: 1, Text: "Driving", Anchor: "driving"},
		Paragraph{Runs: Words(prose)},
		Heading{Level: 2, Text: "Double declutching", Anchor: "double", Index: []string{"gearbox, double declutching", "declutching"}},
		Paragraph{Runs: Runs{
			{Text: "First and second gear of this gearbox are "}, {Kind: Strong, Text: "not synchronised"},
			{Text: ". Going down into them you match the speed of the engine by hand; see also "}, See("the table of road speeds", "speeds"),
			{Text: ". With the engine at "}, Measured("2,400", "rev/min"), {Text: " the pause is about "}, Measured("½", "s"), {Text: ", "},
			{Kind: Emphasis, Text: "a little longer"}, {Text: " when it is cold."},
		}},
		Caution{Word: "Caution", Texts: []Runs{Words("Practise on an empty road. A missed gear leaves you in neutral, with neither drive nor engine braking, on whatever hill you are on.")}},
		List{Numbered: true, Items: []Item{
			{Runs: Words("Clutch down, lever to neutral, clutch up.")},
			{Runs: Words("A short press on the accelerator, so that the engine turns as fast as it will in the lower gear at this road speed."), Changed: true},
			{Runs: Words("Clutch down, lever to the lower gear without force, clutch up."), Caution: &Caution{Word: "Caution", Texts: []Runs{Words("Never force the lever. If it grates, start again from neutral.")}}},
		}},
		Heading{Level: 2, Text: "Before the first drive of the season", Index: []string{"season, first drive of"}},
		Paragraph{Runs: Words("Walk round the vehicle once with this list in your hand:")},
		List{Items: []Item{
			{Runs: Runs{{Text: "Tyre pressures: "}, Measured("2.1", "bar"), {Text: " at the front, "}, Measured("2.4", "bar"), {Text: " at the rear, cold."}}},
			{Runs: Words("Lamps, horn, wipers, and the brake lamps with somebody's help or a wall behind you.")},
			{Runs: Words("Fluid under the vehicle: where, what colour, how much?")},
		}},
		Heading{Level: 1, Text: "Figures to hand", Anchor: "figures"},
		Paragraph{Runs: Words("All figures are those of this vehicle as it stands now, from the values of its release."), Small: true, Changed: true},
		Definitions{Rows: []Definition{
			{Term: "Engine oil", Text: Runs{{Text: "SAE 20W-50 mineral, "}, Measured("6.4", "l"), {Text: " with the filter. Between the marks of the dipstick lies "}, Measured("1", "l"), {Text: "."}}},
			{Term: "Coolant", Text: Runs{{Text: "Equal parts of water and a silicate-type concentrate, "}, Measured("9½", "l"), {Text: "; good to "}, Measured("−35", "°C"), {Text: "."}}, Changed: true},
			{Term: "Brake fluid", Text: Words("DOT 4, never mixed with silicone fluid (DOT 5).")},
		}},
		speeds(40),
		Figure{Caption: "True speed against what the speedometer shows.", Figure: chart(), Show: true, Index: []string{"speedometer"}},
		Heading{Level: 1, Text: "Service pages"},
		Paragraph{Runs: Words("Whoever does the service fills this in.")},
		Caution{Word: "Danger of fire", Texts: []Runs{Words("Petrol vapour lies in pits. No lamp with a filament, no smoking, the battery off."), Words("An extinguisher within reach.")}},
		Together{Blocks: []Block{
			Heading{Level: 2, Text: "Valve clearances, engine cold", Index: []string{"valves, clearances"}},
			Fields{Fields: []Field{
				{Label: "Inlet, cylinder 1", Unit: "mm", Note: "0.20 – 0.25 mm; last 0.23 mm"},
				{Label: "Exhaust, cylinder 1, hottest of the four and the one that closes up first", Unit: "mm", Note: "0.25 – 0.30 mm; last 0.26 mm, falling"},
				{Kind: Tick, Label: "Rocker cover gasket renewed", Note: "4410-2"},
				{Kind: Room, Label: "Remarks", Lines: 3},
			}},
		}},
		Table{Caption: "Come back to us", Columns: []Column{{Head: "Item", Weight: 3}, {Head: "Limit", Weight: 2, Align: Right}, {Head: "Measured", Weight: 2}, {Head: "Done", Weight: 1.2}},
			Groups: []Group{
				{Title: "Front axle", Rows: []Row{
					{Cells: []Cell{{Runs: Words("King pin play, left")}, {Runs: Runs{{Text: "≤ "}, Measured("0.15", "mm")}}, {Runs: Words("mm"), Blank: true}, {Runs: Words("yes"), Tick: true}}},
					{Cells: []Cell{{Runs: Words("King pin play, right, measured at the rim with the wheel off the ground")}, {Runs: Runs{{Text: "≤ "}, Measured("0.15", "mm")}}, {Runs: Words("mm"), Blank: true}, {Tick: true}}, Changed: true},
				}},
				{Title: "Rear axle", Rows: []Row{
					{Cells: []Cell{{Runs: Words("Pinion turning load")}, {Runs: Words("1.2–1.8 N·m")}, {Blank: true}, {Tick: true}}},
				}},
			}},
		Columns{Count: 2, Blocks: []Block{
			Paragraph{Runs: Words("Left: " + prose)},
			List{Items: []Item{{Runs: Words("one")}, {Runs: Words("two")}, {Runs: Words("three")}}},
			Paragraph{Runs: Words("Right: " + prose)},
		}},
		Heading{Level: 3, Text: "Before you ring"}, Paragraph{Runs: Words("Is there petrol, and is the lever in neutral?")},
		Heading{Level: 2, Text: "If it does not start", Index: []string{"starting", "battery, flat"}},
		Paragraph{Runs: Words(strings.Repeat(prose+" ", 4)), Index: []string{"oil, pressure"}},
		Paragraph{Runs: Words(strings.Repeat(prose+" ", 3)), Index: []string{"oil, grade"}},
		PageBreak{},
		Index{Title: "Index"},
	}
}

// speeds is a table over several pages.
func speeds(rows int) Table {
	t := Table{
		Caption: "Road speed in each gear", Anchor: "speeds", Index: []string{"speed, in each gear"}, RowHeads: true,
		Columns: []Column{{Head: "Engine, rev/min", Weight: 1.6}, {Head: "1st", Align: Right}, {Head: "2nd", Align: Right}, {Head: "3rd", Align: Right}, {Head: "4th", Align: Right}},
		Groups:  []Group{{}},
	}
	for i := range rows {
		rev := 600 + 100*i
		cells := []Cell{{Runs: Words(fmt.Sprint(rev))}}
		for _, ratio := range []float64{0.0069, 0.0128, 0.0203, 0.0297} {
			cells = append(cells, Cell{Runs: Words(fmt.Sprintf("%.1f", float64(rev)*ratio))})
		}
		t.Groups[0].Rows = append(t.Groups[0].Rows, Row{Cells: cells, Changed: i == 7 || i == 8})
	}
	return t
}

// chart is a drawing with every kind of mark.
func chart() figure.Figure {
	d := figure.Drawing{Width: 480, Height: 260, Marks: []figure.Mark{
		figure.Bar{X: 60, Y: 20, Width: 400, Height: 200, Stroke: figure.Stroke{Tone: figure.Faint, Width: 1}, Fill: figure.Cleared},
		figure.Path{Points: []figure.Point{{X: 60, Y: 220}, {X: 460, Y: 40}, {X: 460, Y: 80}}, Closed: true, Fill: figure.Rising, Stroke: figure.Stroke{Tone: figure.Quiet, Width: 1}},
		figure.Path{Points: []figure.Point{{X: 60, Y: 220}, {X: 460, Y: 60}}, Stroke: figure.Stroke{Width: 2}},
		figure.Path{Points: []figure.Point{{X: 60, Y: 100}, {X: 460, Y: 100}}, Stroke: figure.Stroke{Tone: figure.Quiet, Width: 1, Dash: []float64{6, 4}}},
		figure.Bar{X: 80, Y: 180, Width: 30, Height: 40, Fill: figure.Wash}, figure.Bar{X: 120, Y: 170, Width: 30, Height: 50, Fill: figure.Full},
		figure.Bar{X: 160, Y: 160, Width: 30, Height: 60, Fill: figure.Falling, Stroke: figure.Stroke{Width: 1}},
		figure.Text{At: figure.Point{X: 260, Y: 250}, Anchor: figure.Middle, Size: 13, Text: "true speed, mph"},
		figure.Text{At: figure.Point{X: 54, Y: 104}, Anchor: figure.End, Size: 13, Tone: figure.Quiet, Text: "70"},
		figure.Text{At: figure.Point{X: 70, Y: 40}, Size: 13, Bold: true, Text: "limit"},
	}}
	for i, shape := range []figure.Shape{figure.Dot, figure.Ring, figure.Cross, figure.Triangle, figure.Wedge, figure.Square, figure.Diamond} {
		d.Marks = append(d.Marks, figure.Symbol{At: figure.Point{X: 220 + 30*float64(i), Y: 200 - 20*float64(i)}, Shape: shape, Size: 10})
	}
	return figure.Figure{
		Title: "Indicated and true speed", Description: []string{"The speedometer shows 3 % more than the true speed."}, Drawing: d,
		Table: figure.Table{Caption: "Indicated and true speed", Heads: []string{"true", "shown"}, Rows: [][]string{{"30", "31"}, {"60", "62"}}},
	}
}
