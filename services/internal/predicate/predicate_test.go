package predicate_test

import (
	"strings"
	"testing"

	"halfshaft/services/internal/predicate"
	"halfshaft/services/vehicle"
)

var packhorse = vehicle.Makeup{
	Release: "R3", Options: []string{"winch"}, Wheelbase: "short", Market: "GB",
	Fitted: map[string][]string{
		"air-cleaner": {"oil-bath"}, "winch": {"electric", "wire"}, "front-axle-differential": {"open"},
	},
}

func compiler(t testing.TB) *predicate.Compiler {
	t.Helper()
	c, err := predicate.NewCompiler()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestPredicatesAnswerForAConfiguration(t *testing.T) {
	c := compiler(t)
	for text, want := range map[string]bool{
		`"oil-bath" in fitted["air-cleaner"]`:                                   true,
		`"winch" in fitted && "synthetic" in fitted["winch"]`:                   false,
		`"soft-top" in fitted`:                                                  false,
		`"soft-top" in fitted && "canvas" in fitted["soft-top"]`:                false,
		`"winch" in options && release in ["R3", "R4"] && wheelbase == "short"`: true,
		`market != "GB"`: false,
		`fitted.exists(p, p.startsWith("front-axle") && "open" in fitted[p])`: true,
	} {
		p, problems := c.Compile(text)
		if len(problems) > 0 {
			t.Errorf("%s: %v", text, problems)
			continue
		}
		if got, err := p.Applies(packhorse); err != nil || got != want {
			t.Errorf("%s = %v, %v; want %v", text, got, err, want)
		}
	}
}

func TestAskingForAPositionThatIsNotFittedIsAnErrorUnlessLookedForFirst(t *testing.T) {
	p, problems := compiler(t).Compile(`"canvas" in fitted["soft-top"]`)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if got, err := p.Applies(packhorse); err == nil {
		t.Errorf("got %v without an error; want an error that names the missing key", got)
	} else if !strings.Contains(err.Error(), "soft-top") {
		t.Errorf("the error %q does not name the position", err)
	}
}

func TestWrongExpressionsAreRefusedWithTheirPlace(t *testing.T) {
	c := compiler(t)
	for _, x := range []struct {
		name, text, want string
		column           int
	}{
		{"unknown names", `engine == "x"`, "undeclared reference", 1},
		{"a list compared with a text", `release == options`, "no matching overload", 9},
		{"an unfinished expression", `"winch" in `, "Syntax error", 12},
		{"a text instead of a truth value", `release`, "true or false", 0},
		{"time, which no predicate may know", `now() == 1`, "undeclared reference", 4},
		{"more than may be written", strings.Repeat(" ", 1001) + "true", "at most", 0},
	} {
		p, problems := c.Compile(x.text)
		if p != nil || len(problems) == 0 {
			t.Errorf("%s: accepted", x.name)
			continue
		}
		if !strings.Contains(problems[0].Message, x.want) || problems[0].Column != x.column {
			t.Errorf("%s: got %q at column %d, want %q at column %d", x.name, problems[0].Message, problems[0].Column, x.want, x.column)
		}
	}
}

func TestEveryProblemOfAnExpressionIsReported(t *testing.T) {
	_, problems := compiler(t).Compile(`engine && gearbox`)
	if len(problems) != 2 {
		t.Errorf("got %v, want both unknown names", problems)
	}
}

func TestAnExpressionThatCostsTooMuchEndsWithAnError(t *testing.T) {
	big := vehicle.Makeup{Fitted: map[string][]string{}}
	for i := range 300 {
		big.Options = append(big.Options, strings.Repeat("x", i%7+1))
	}
	p, problems := compiler(t).Compile(`options.all(a, options.all(b, options.all(c, a + b != c + "y")))`)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if _, err := p.Applies(big); err == nil || !strings.Contains(err.Error(), "cost") {
		t.Errorf("got %v, want an error about the cost", err)
	}
}

// FuzzPredicate tries that no text makes the compiler or an evaluation panic or
// run away, and that what compiles gives an answer or an error.
func FuzzPredicate(f *testing.F) {
	for _, seed := range []string{
		`"oil-bath" in fitted["air-cleaner"]`, `fitted.exists(p, p.matches("^(a+)+$"))`, `((((`, `"\uD800"`,
		`options.map(o, fitted[o]).size() > 0`, `release + market == wheelbase ? true : false`, `1/0 == 1`,
		`options.all(a, options.all(b, options.all(c, a+b+c != "")))`, "\x00", `{"a": 1}.a == 1`, `[[[[[[[[[1]]]]]]]]] == []`,
	} {
		f.Add(seed)
	}
	c := compiler(f)
	f.Fuzz(func(t *testing.T, text string) {
		p, problems := c.Compile(text)
		if (p == nil) != (len(problems) > 0) {
			t.Fatalf("%q: predicate %v and problems %v", text, p, problems)
		}
		if p != nil {
			_, _ = p.Applies(packhorse)
			_, _ = p.Applies(vehicle.Makeup{})
		}
	})
}

func TestADriveLineCanBeAskedAbout(t *testing.T) {
	c, err := predicate.NewCompiler()
	if err != nil {
		t.Fatal(err)
	}
	m := vehicle.Makeup{AxleRatio: 4.7, SpeedometerDrive: "5:15", TyreSize: "7.50-16"}
	for text, want := range map[string]bool{
		"axle_ratio == 4.70": true, "axle_ratio == 4.12": false, `speedometer_drive.startsWith("5:")`: true, `tyre_size in ["205R16", "7.50-16"]`: true,
	} {
		p, problems := c.Compile(text)
		if len(problems) > 0 {
			t.Fatalf("%s: %v", text, problems)
		}
		if got, err := p.Applies(m); err != nil || got != want {
			t.Errorf("%s: %v, %v, want %v", text, got, err, want)
		}
	}
}
