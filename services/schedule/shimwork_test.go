package schedule_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

func amount(text string) vehicle.Quantity {
	if text == "" {
		return vehicle.Quantity{}
	}
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return q
}

// reshimmed is a change of a pack without a fault: 0.51 and twice 0.08 mm.
func reshimmed() schedule.ShimWork {
	return schedule.ShimWork{
		Position: "output-shaft-bearing", Characteristic: "end-float", Before: amount("0.15 mm"), PackBefore: amount("0.76 mm"),
		Shims: []schedule.ShimUsed{{Thickness: amount("0.51 mm"), Count: 1, Part: "AP-2074"}, {Thickness: amount("0.08 mm"), Count: 2}},
		Pack:  amount("0.67 mm"), After: amount("0.06 mm"),
	}
}

func TestShimWorkIsCheckedFieldByField(t *testing.T) {
	for title, c := range map[string]struct {
		change func(*schedule.ShimWork)
		want   string // the fields that are wrong
	}{
		"nothing wrong":                      {func(*schedule.ShimWork) {}, ""},
		"nothing known of before":            {func(w *schedule.ShimWork) { w.Before, w.PackBefore, w.After = amount(""), amount(""), amount("") }, ""},
		"the pack alone":                     {func(w *schedule.ShimWork) { w.Shims = nil }, ""},
		"no shims any more":                  {func(w *schedule.ShimWork) { w.Shims, w.Pack = nil, amount("0 mm") }, ""},
		"the shims alone":                    {func(w *schedule.ShimWork) { w.Pack = amount("") }, ""},
		"the pack in another unit":           {func(w *schedule.ShimWork) { w.Shims[0].Thickness, w.Pack = amount("20 thou"), amount("0.668 mm") }, ""},
		"the same pack to more digits":       {func(w *schedule.ShimWork) { w.Pack = amount("0.6700 mm") }, ""},
		"a preload":                          {func(w *schedule.ShimWork) { w.Before, w.After = amount("3.5 kgf"), amount("14 lbf") }, ""},
		"float below nothing":                {func(w *schedule.ShimWork) { w.Before = amount("-0.04 mm") }, ""},
		"a hair off the sum":                 {func(w *schedule.ShimWork) { w.Pack = amount("0.670000001 mm") }, "pack"},
		"neither shims nor pack":             {func(w *schedule.ShimWork) { w.Shims, w.Pack = nil, amount("") }, "shims"},
		"no position":                        {func(w *schedule.ShimWork) { w.Position = "" }, "position"},
		"a position that is no word":         {func(w *schedule.ShimWork) { w.Position = "Output shaft" }, "position"},
		"no characteristic":                  {func(w *schedule.ShimWork) { w.Characteristic = "end--float" }, "characteristic"},
		"a thickness of nothing":             {func(w *schedule.ShimWork) { w.Shims[0].Thickness = amount("0 mm") }, "shims[0].thickness"},
		"no thickness":                       {func(w *schedule.ShimWork) { w.Shims[1].Thickness = amount("") }, "shims[1].thickness"},
		"a thickness in kgf":                 {func(w *schedule.ShimWork) { w.Shims[1].Thickness = amount("1 kgf") }, "shims[1].thickness"},
		"a pack in the unknown unit of both": {func(w *schedule.ShimWork) { w.Pack = amount("1 sheet") }, "pack"},
		"no count":                           {func(w *schedule.ShimWork) { w.Shims[0].Count = 0 }, "shims[0].count"},
		"fewer than nothing":                 {func(w *schedule.ShimWork) { w.Shims[0].Count = -1 }, "shims[0].count"},
		"a part that is words":               {func(w *schedule.ShimWork) { w.Shims[0].Part = "the thick one" }, "shims[0].part"},
		"a pack of a metre":                  {func(w *schedule.ShimWork) { w.PackBefore = amount("1 m") }, "pack_before"},
		"a pack before in kgf":               {func(w *schedule.ShimWork) { w.PackBefore = amount("1 kgf") }, "pack_before"},
		"float after a load":                 {func(w *schedule.ShimWork) { w.Before = amount("3.5 kgf") }, "measured_after"},
		"a load below nothing":               {func(w *schedule.ShimWork) { w.Before, w.After = amount("-1 kgf"), amount("2 kgf") }, "measured_before"},
		"a pressure":                         {func(w *schedule.ShimWork) { w.Before, w.After = amount(""), amount("2 bar") }, "measured_after"},
		"twenty-one lines":                   {func(w *schedule.ShimWork) { w.Shims, w.Pack = slices.Repeat(w.Shims[:1], 21), amount("") }, "shims"},
		"several at once": {func(w *schedule.ShimWork) { w.Position, w.Shims[1].Count, w.After = "", 101, amount("2 bar") },
			"position measured_after measured_after shims[1].count"},
	} {
		w := reshimmed()
		c.change(&w)
		var names []string
		for _, f := range w.Validate() {
			names = append(names, f.Name)
		}
		if got := strings.Join(names, " "); got != c.want {
			t.Errorf("%s: wrong are %q, want %q", title, got, c.want)
		}
	}
}

func TestThePackIsTheSumOfItsShims(t *testing.T) {
	w := reshimmed()
	w.Pack = amount("")
	if sum, ok := w.Sum(); !ok || sum.String() != "0.67 mm" {
		t.Errorf("got %s, %v", sum, ok)
	}
	w.Shims[1].Thickness = amount("3 thou") // 0.0762 mm
	if sum, ok := w.Sum(); !ok || sum.String() != "0.6624 mm" {
		t.Errorf("with a shim of 3 thou: %s, %v", sum, ok)
	}
	w.Shims[0], w.Shims[1] = w.Shims[1], w.Shims[0]
	if sum, ok := w.Sum(); ok { // 0.51 mm is no decimal of a thou
		t.Errorf("in thou: %s", sum)
	}
}

// The sum of a pack by counting hundred-thousandths of a millimetre one shim at
// a time.
func TestTheSumOfAPackIsThatOfACarefulChild(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := reshimmed()
		w.Shims, w.Pack = nil, amount("")
		want := 0
		for range rapid.IntRange(1, 6).Draw(t, "lines") {
			each, n := rapid.IntRange(1, 99_999).Draw(t, "thickness"), rapid.IntRange(1, 5).Draw(t, "count")
			w.Shims = append(w.Shims, schedule.ShimUsed{Thickness: amount(fmt.Sprintf("0.%05d mm", each)), Count: n})
			for range n {
				want += each
			}
		}
		sum, ok := w.Sum()
		if text := fmt.Sprintf("%d.%05d mm", want/100_000, want%100_000); !ok || sum.String() != text {
			t.Fatalf("got %s, want %s", sum, text)
		}
		w.Pack = sum
		if wrong := w.Validate(); len(wrong) > 0 {
			t.Fatalf("with its own sum: %v", wrong)
		}
	})
}
