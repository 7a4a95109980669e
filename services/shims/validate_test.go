package shims_test

import (
	"errors"
	"slices"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
)

// complaints gives the names of the fields that are refused.
func complaints(t *testing.T, p shims.Problem) []string {
	t.Helper()
	_, err := shims.Select(p)
	if err == nil {
		return nil
	}
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Invalid {
		t.Fatalf("%v is not a refusal of fields", err)
	}
	var names []string
	for _, field := range f.Fields {
		if field.Want == "" {
			t.Errorf("%s: nothing is wanted", field)
		}
		names = append(names, field.Name)
	}
	return names
}

func TestWhatIsRefused(t *testing.T) {
	good := joint("0.15 mm", "0.76 mm")
	goodLoad := load("3.5 kgf", "0.76 mm")
	held := []shims.Held{{Thickness: quantity("0.51 mm"), Count: 1}}
	for _, c := range []struct {
		name   string
		p      shims.Problem
		change func(*shims.Problem)
		want   []string
	}{
		{"nothing at all", shims.Problem{}, func(*shims.Problem) {}, []string{"measured", "design", "largest_count", "sizes", "fitted"}},
		{"a unit that nobody knows", good, func(p *shims.Problem) { p.Measured.Unit = "mil" }, []string{"measured"}},
		{"a number that nobody wrote", good, func(p *shims.Problem) { p.Measured.Value.Scale = 10 }, []string{"measured"}},
		{"a float of a metre", good, func(p *shims.Problem) { p.Measured = quantity("1000 mm") }, []string{"measured"}},
		{"a float against a load", good, func(p *shims.Problem) { p.Lower, p.Upper = quantity("5 N"), quantity("8 N") }, []string{"lower", "upper"}},
		{"a window the wrong way about", good, func(p *shims.Problem) { p.Lower, p.Upper = p.Upper, p.Lower }, []string{"upper"}},
		{"the wrong way about in another unit", good, func(p *shims.Problem) { p.Upper = quantity("1 thou") }, []string{"upper"}},
		{"no upper limit", good, func(p *shims.Problem) { p.Upper = vehicle.Quantity{} }, []string{"upper"}},
		{"a target outside", good, func(p *shims.Problem) { p.Target = quantity("0.11 mm") }, []string{"target"}},
		{"a slope for a float", good, func(p *shims.Problem) { p.Slope = quantity("12 N/mm") }, []string{"slope"}},
		{"no slope for a load", goodLoad, func(p *shims.Problem) { p.Slope = vehicle.Quantity{} }, []string{"slope"}},
		{"a slope of a torque for a force", goodLoad, func(p *shims.Problem) { p.Slope = quantity("12 N·m/mm") }, []string{"slope"}},
		{"a slope upside down", goodLoad, func(p *shims.Problem) { p.Slope = quantity("12 mm/N") }, []string{"slope"}},
		{"a slope with a sign", goodLoad, func(p *shims.Problem) { p.Slope = quantity("-12 kgf/mm") }, []string{"slope"}},
		{"a slope of nothing", goodLoad, func(p *shims.Problem) { p.Slope = quantity("0 kgf/mm") }, []string{"slope"}},
		{"a slope that shows nothing", goodLoad, func(p *shims.Problem) { p.Slope = quantity("0.000001 kgf/cm") }, []string{"slope"}},
		{"a load of nothing", goodLoad, func(p *shims.Problem) { p.Measured = quantity("0 kgf") }, []string{"measured"}},
		{"a window below nothing", goodLoad, func(p *shims.Problem) { p.Lower = quantity("-1 kgf") }, []string{"lower"}},
		{"a load of a mountain", goodLoad, func(p *shims.Problem) { p.Upper = quantity("1000001 kgf") }, []string{"upper"}},
		{"a design of neither sign", good, func(p *shims.Problem) { p.Design = 3 }, []string{"design"}},
		{"a rule of no name", good, func(p *shims.Problem) { p.Rule = 2 }, []string{"rule"}},
		{"a joint of no name", good, func(p *shims.Problem) { p.Joint = -1 }, []string{"joint"}},
		{"too many shims", good, func(p *shims.Problem) { p.LargestCount = 13 }, []string{"largest_count"}},
		{"too many sizes", good, func(p *shims.Problem) { p.Sizes = make([]shims.Size, 21) }, []string{"sizes"}},
		{"a size twice, in two units", good, func(p *shims.Problem) { p.Sizes = endless("0.254 mm", "10 thou") }, []string{"sizes[1].thickness"}},
		{"sizes of nothing and less", good, func(p *shims.Problem) { p.Sizes = endless("0 mm", "-0.1 mm", "101 mm", "1 N") },
			[]string{"sizes[0].thickness", "sizes[1].thickness", "sizes[2].thickness", "sizes[3].thickness"}},
		{"less than no stock", good, func(p *shims.Problem) { p.Sizes[1] = stocked("0.13 mm", "", -1) }, []string{"sizes[1].stock"}},
		{"no fitted pack", good, func(p *shims.Problem) { p.Fitted = shims.Fitted{} }, []string{"fitted"}},
		{"a fitted pack told twice", good, func(p *shims.Problem) { p.Fitted.Shims = held }, []string{"fitted"}},
		{"a fitted pack of less than nothing", good, func(p *shims.Problem) { p.Fitted.Total = quantity("-1 mm") }, []string{"fitted.total"}},
		{"a total to be used again", good, func(p *shims.Problem) { p.ReuseFitted = true }, []string{"reuse_fitted"}},
		{"fitted shims of nothing", good, func(p *shims.Problem) {
			p.Fitted = shims.Fitted{Shims: []shims.Held{{quantity("0 mm"), 1, ""}, {quantity("1 mm"), 0, ""}, {Count: 101}}}
		}, []string{"fitted.shims[0].thickness", "fitted.shims[1].count", "fitted.shims[2].count", "fitted.shims[2].thickness"}},
		{"a fitted pack of a hand's breadth", good, func(p *shims.Problem) {
			p.Fitted = shims.Fitted{Shims: []shims.Held{{quantity("2 mm"), 51, ""}}}
		}, []string{"fitted.shims"}},
		{"more fitted shims than are looked at", good, func(p *shims.Problem) {
			p.Fitted = shims.Fitted{Shims: slices.Repeat([]shims.Held{{quantity("0.1 mm"), 1, ""}}, 101)}
		}, []string{"fitted.shims"}},
		{"more sizes with the fitted ones than are looked at", regular(), func(p *shims.Problem) {
			p.Fitted, p.ReuseFitted = shims.Fitted{Shims: held}, true
		}, []string{"fitted.shims"}},
	} {
		p := c.p
		p.Sizes = slices.Clone(p.Sizes)
		if got := complaints(t, p); len(got) > 0 && c.name != "nothing at all" {
			t.Fatalf("%s: refused before it was changed: %v", c.name, got)
		}
		c.change(&p)
		if got := complaints(t, p); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestTheProblemIsLeftAsItWas(t *testing.T) {
	p := joint("0.15 mm", "0.76 mm")
	sizes := slices.Clone(p.Sizes)
	choose(t, p)
	if !slices.Equal(p.Sizes, sizes) {
		t.Errorf("%v, want %v", p.Sizes, sizes)
	}
}
