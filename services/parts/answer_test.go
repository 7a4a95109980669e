package parts_test

import (
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

var update = flag.Bool("update", false, "write the golden file anew; then read its diff")

// cases are questions to the shed with what is expected, worked out by hand
// from the rows of shed_test.go (source: the hard cases of the trade, item 3).
// Each is also printed into the golden file, whole.
var cases = []struct {
	name, on, question string
	life               life
	want               []string // "position: number x quantity" for each choice
	rule               string   // of the refusal
	reasons            []string // rules that must be among the reasons of the first choice, or of the refusal
	asks               string   // what the question back must hold
}{
	{name: "a position gives the part of the release", question: "fan-belt", life: built("AM0101", "R1"),
		want: []string{"fan-belt: AP-7000 x1"}, reasons: []string{"RELEASE_STANDARD", "SUPERSESSION_LATER"}},
	{name: "a supersession holds from its day on", on: "2027-01-01", question: "fan belt", life: built("AM0101", "R1"),
		want: []string{"fan-belt: AP-7010 x1"}, reasons: []string{"SUPERSEDED"}},
	{name: "a chain is followed to its end, with the stock of the old number", question: "gearbox", life: built("AM0101", "R1"),
		want: []string{"gearbox: AP-2002 x1"}, reasons: []string{"RELEASE_STANDARD", "SUPERSEDED", "OLD_STOCK"}},
	{name: "on an earlier day the chain is shorter", on: "2015-01-01", question: "gearbox", life: built("AM0101", "R1"),
		want: []string{"gearbox: AP-2001 x1"}, reasons: []string{"USE_UP"}},
	{name: "an old number leads to its successor", question: "ap 2000", life: built("AM0101", "R2"),
		want: []string{"gearbox: AP-2002 x1"}, reasons: []string{"ASKED_OTHER_NUMBER", "SUPERSEDED"}},
	{name: "a number older than the release leads there too", question: "AP1999", life: built("AM0101", "R1"),
		want: []string{"gearbox: AP-2002 x1"}, reasons: []string{"ASKED_OTHER_NUMBER"}},
	{name: "a supersession that needs another part waits for it", question: "transfer case", life: built("AM0101", "R1"),
		want: []string{"transfer-case: AP-4000 x1"}, reasons: []string{"CONDITION_NOT_MET"}},
	{name: "the number that waits is refused, and the last that holds is offered", question: "AP-4010", life: built("AM0101", "R1"),
		want: []string{"transfer-case: AP-4000 x1"}, rule: "CONDITION_NOT_MET", reasons: []string{"CONDITION_NOT_MET"}},
	{name: "once the other part is fitted the supersession holds", question: "transfer-case",
		life: built("AM0101", "R2").change("2020-02-02", build.Fit, build.SourceWorks, "output-shaft-bearing", "AP-4110"),
		want: []string{"transfer-case: AP-4010 x1"}, reasons: []string{"SUPERSEDED"}},
	{name: "a supersession for one release does not touch another", question: "output shaft bearing", life: built("AM0101", "R1"),
		want: []string{"output-shaft-bearing: AP-4100 x1"}, reasons: []string{"SUPERSESSION_OTHER_RELEASE"}},
	{name: "a position that was upgraded follows the later release", question: "output-shaft-bearing",
		life: built("AM0101", "R1").upgraded("2019-01-01", "R2", "output-shaft-bearing"),
		want: []string{"output-shaft-bearing: AP-4110 x1"}, reasons: []string{"UPGRADED", "SUPERSEDED"}},
	{name: "the number of another release is refused and the part here offered", question: "AP-4110", life: built("AM0101", "R1"),
		want: []string{"output-shaft-bearing: AP-4100 x1"}, rule: "NOT_ON_THIS_VEHICLE", reasons: []string{"SUPERSESSION_OTHER_RELEASE"}},
	{name: "a part that was split is ordered with the rest", question: "front axle differential", life: built("AM0101", "R1"),
		want: []string{"front-axle-differential: AP-5010 x1 also 1 AP-5011 renew 1 AP-5012"}, reasons: []string{"SUPERSEDED", "OLD_STOCK"}},
	{name: "one part of a split is put first when it was asked for", question: "AP-5011 front", life: built("AM0101", "R1"),
		want: []string{"front-axle-differential: AP-5011 x1 also 1 AP-5010 renew 1 AP-5012"}},
	{name: "an option replaces the standard", question: "rear differential", life: built("AM0101", "R1", "lsd-rear"),
		want: []string{"rear-axle-differential: AP-5100 x1"}, reasons: []string{"OPTION_REPLACES"}},
	{name: "another number read off a standard unit at its overhaul may be right or wrong", question: "rear-axle-differential",
		life:    built("AM0101", "R1").change("2021-05-04", build.Overhaul, build.SourceService, "rear-axle-differential", "AP-5100"),
		want:    []string{"rear-axle-differential: AP-5010 x1 also 1 AP-5011 renew 1 AP-5012", "rear-axle-differential: AP-5100 x1"},
		reasons: []string{"OVERHAULED", "FITTED_DIFFERS"}, asks: "like what is on the vehicle"},
	{name: "front or rear is asked", question: "differential", life: built("AM0101", "R1"),
		want: []string{"front-axle-differential: AP-5010 x1 also 1 AP-5011 renew 1 AP-5012", "rear-axle-differential: AP-5010 x1 also 1 AP-5011 renew 1 AP-5012"},
		asks: "Front or rear?"},
	{name: "left or right is asked", question: "swivel housing", life: built("AM0101", "R1"),
		want: []string{"swivel-housing-left: AP-1010-L x1 renew 1 AP-1190", "swivel-housing-right: AP-1010-R x1 renew 1 AP-1190"},
		asks: "Left or right?"},
	{name: "a side that was said is not asked for", question: "swivel housing LH", life: built("AM0101", "R1"),
		want: []string{"swivel-housing-left: AP-1010-L x1 renew 1 AP-1190"}},
	{name: "a part that is the same on both sides says so", question: "swivel ball seal", life: built("AM0101", "R1"),
		want:    []string{"swivel-housing-left: AP-1190 x1", "swivel-housing-right: AP-1190 x1"},
		reasons: []string{"RENEWED_WITH", "KIT", "SUPERSEDED"}, asks: "same on each"},
	{name: "a seal of one side is found through its housing", question: "big seal left", life: built("AM0101", "R1"),
		want: []string{"swivel-housing-left: AP-1190 x1"}},
	{name: "a left part is not offered for the right", question: "AP-1010-L right", life: built("AM0101", "R1"), rule: "NOT_ON_THIS_VEHICLE"},
	{name: "a part that a kit holds is found, with the kit", question: "AP-1102 left", life: built("AM0101", "R1"),
		want: []string{"swivel-housing-left: AP-1102 x1"}, reasons: []string{"IN_KIT"}},
	{name: "the quantity is the vehicle's, the minimum is told", question: "spark plugs", life: built("AM0101", "R1"),
		want: []string{"spark-plugs: AP-3000 x4"}, reasons: []string{"STANDS_IN", "QUANTITY", "MINIMUM"}},
	{name: "what cannot be had is refused with its drawing", question: "steering damper", life: built("AM0101", "R1"),
		rule: "UNAVAILABLE", reasons: []string{"UNAVAILABLE"}},
	{name: "a position that the vehicle has not is refused", question: "winch", life: built("AM0101", "R1"), rule: "POSITION_EMPTY"},
	{name: "an option that leaves a position empty", question: "hard top", life: built("AM0101", "R1", "soft-top"), rule: "POSITION_EMPTY"},
	{name: "a number that belongs elsewhere is told where", question: "ap9000", life: built("AM0101", "R1"), rule: "NOT_ON_THIS_VEHICLE"},
	{name: "words for something elsewhere are told where", question: "capstan", life: built("AM0101", "R1"), rule: "NOT_ON_THIS_VEHICLE"},
	{name: "a part of another release is told where", question: "brake servo", life: built("AM0101", "R1"), rule: "POSITION_EMPTY"},
	{name: "what a kit holds need not be renewed beside it", question: "brake servo", life: built("AM0101", "R2"),
		want: []string{"brake-servo: AP-8200 x1 renew 2 AP-8202"}, reasons: []string{"KIT"}},
	{name: "a number that nobody knows, with those one character away", question: "AP-700O", life: built("AM0101", "R1"),
		rule: "NO_SUCH_PART", reasons: []string{"NEAR_NUMBERS"}},
	{name: "words that nobody knows", question: "flux capacitor", life: built("AM0101", "R1"), rule: "NO_SUCH_PART"},
	{name: "a misspelling of the catalogue is known", question: "tranfer case", life: built("AM0101", "R1"),
		want: []string{"transfer-case: AP-4000 x1"}},
	{name: "one wrong letter is understood and checked with the caller", question: "shoker", life: built("AM0101", "R1"),
		want: []string{"shock-absorbers: AP-6500 x4"}, asks: "Is this meant"},
	{name: "a word too many is checked with the caller", question: "fan belt squeaking", life: built("AM0101", "R1"),
		want: []string{"fan-belt: AP-7000 x1"}, asks: "Is this meant"},
	{name: "a campaign outranks the release", question: "shock absorbers",
		life: built("AM0101", "R1").change("2021-05-05", build.Fit, build.SourceCampaign, "shock-absorbers", "AP-6510"),
		want: []string{"shock-absorbers: AP-6510 x4"}, reasons: []string{"CAMPAIGN_FITTED", "CAMPAIGN_OUTRANKS"}},
	{name: "the number that a campaign replaced leads to the campaign's", question: "AP-6500",
		life: built("AM0101", "R1").change("2021-05-05", build.Fit, build.SourceCampaign, "shock-absorbers", "AP-6510"),
		want: []string{"shock-absorbers: AP-6510 x4"}, reasons: []string{"CAMPAIGN_OUTRANKS", "ASKED_OTHER_NUMBER"}},
	{name: "an owner's modification is told beside the specification", question: "shock-absorbers",
		life: built("AM0101", "R1").change("2021-05-05", build.Fit, build.SourceOwner, "shock-absorbers", "AP-6520"),
		want: []string{"shock-absorbers: AP-6500 x4"}, reasons: []string{"OWNER_FITTED", "OWNER_MODIFICATION"}},
	{name: "the number of an owner's modification is answered with both", question: "AP-6520",
		life: built("AM0101", "R1").change("2021-05-05", build.Fit, build.SourceOwner, "shock-absorbers", "AP-6520"),
		want: []string{"shock-absorbers: AP-6500 x4"}, reasons: []string{"OWNER_MODIFICATION"}},
	{name: "a stranger's part of an owner is told where the specification has nothing", question: "winch",
		life: built("AM0101", "R1").change("2021-05-05", build.Fit, build.SourceOwner, "winch", "ZZ-1"),
		rule: "POSITION_EMPTY", reasons: []string{"OWNER_MODIFICATION"}},
	{name: "what was fitted in service and is not connected is asked about", question: "shock-absorbers",
		life: built("AM0101", "R1").change("2021-05-05", build.Fit, build.SourceService, "shock-absorbers", "AP-6520"),
		want: []string{"shock-absorbers: AP-6500 x4", "shock-absorbers: AP-6520 x4"}, reasons: []string{"FITTED_DIFFERS"}, asks: "or like what is on the vehicle"},
	{name: "the fitted number itself leaves no question", question: "AP-6520",
		life: built("AM0101", "R1").change("2021-05-05", build.Fit, build.SourceService, "shock-absorbers", "AP-6520"),
		want: []string{"shock-absorbers: AP-6520 x4"}},
	{name: "a position that was emptied is filled by the specification", question: "fan-belt",
		life: built("AM0101", "R1").change("2021-05-05", build.Remove, build.SourceService, "fan-belt", ""),
		want: []string{"fan-belt: AP-7000 x1"}, reasons: []string{"POSITION_BARE"}},
	{name: "an older part that a supersession connects is followed", question: "gearbox",
		life: built("AM0101", "R2").change("2021-05-05", build.Fit, build.SourceService, "gearbox", "AP-2000"),
		want: []string{"gearbox: AP-2002 x1"}, reasons: []string{"FITTED_IN_CHAIN"}},
}

func TestTheHardCasesOfTheTrade(t *testing.T) {
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			a := ask(t, c.life, dayOr(c.on), c.question)
			var got []string
			for i := range a.Choices {
				got = append(got, summary(&a.Choices[i]))
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("choices (-want +got):\n%s", diff)
			}
			rule, reasons := "", rulesOf(&a)
			if a.Refusal != nil {
				rule = a.Refusal.Rule
			}
			if rule != c.rule {
				t.Errorf("refused with %q, want %q", rule, c.rule)
			}
			for _, want := range c.reasons {
				if !slices.Contains(reasons, want) {
					t.Errorf("no reason %s among %v", want, reasons)
				}
			}
			if c.asks == "" && a.AskBack != "" || !strings.Contains(a.AskBack, c.asks) {
				t.Errorf("asks back %q, want %q", a.AskBack, c.asks)
			}
		})
	}
}

func dayOr(on string) string {
	if on == "" {
		return today
	}
	return on
}

func rulesOf(a *parts.Answer) []string {
	var rules []string
	if len(a.Choices) > 0 {
		for _, r := range a.Choices[0].Reasons {
			rules = append(rules, r.Rule)
		}
	}
	if a.Refusal != nil {
		for _, r := range a.Refusal.Reasons {
			rules = append(rules, r.Rule)
		}
	}
	return rules
}

func summary(c *parts.Choice) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s x%d", c.Position, c.Order.Number, c.Quantity)
	for _, l := range c.AlsoOrder {
		fmt.Fprintf(&b, " also %d %s", l.Count(), l.Part)
	}
	for _, l := range c.RenewWith {
		fmt.Fprintf(&b, " renew %d %s", l.Count(), l.Part)
	}
	return b.String()
}

func TestTheAnswersReadAsInTheGoldenFile(t *testing.T) {
	var b strings.Builder
	b.WriteString("The answers to the cases of answer_test.go, as support would read them out.\n")
	for _, c := range cases {
		a := ask(t, c.life, dayOr(c.on), c.question)
		fmt.Fprintf(&b, "\n== %s\n", c.name)
		write(&b, c.question, &a)
	}
	const file = "testdata/answers.golden"
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(b.String(), "\n")); diff != "" {
		t.Errorf("-want +got; -update writes it anew:\n%s", diff)
	}
}

func write(b *strings.Builder, question string, a *parts.Answer) {
	fmt.Fprintf(b, "%s, %s: %q, understood as %s\n", a.Serial, a.On, question, a.Question)
	for i := range a.Choices {
		c := &a.Choices[i]
		fmt.Fprintf(b, "  %s  %s\n", summary(c), c.Order.Title)
		fmt.Fprintf(b, "    specified %q, fitted %q %s%s\n", c.SpecifiedPart, c.FittedPart, c.FittedSerial, c.FittedLot)
		for _, s := range c.Supersessions {
			fmt.Fprintf(b, "    by %s\n", s.ID)
		}
		for _, r := range c.Reasons {
			fmt.Fprintf(b, "    %s: %s\n", r.Rule, r.Sentence)
		}
		if c.Caution != "" {
			fmt.Fprintf(b, "    Caution: %s\n", c.Caution)
		}
	}
	if a.AskBack != "" {
		fmt.Fprintf(b, "  Ask: %s\n", a.AskBack)
	}
	if r := a.Refusal; r != nil {
		fmt.Fprintf(b, "  Refused, %s: %s\n", r.Rule, r.Sentence)
		for _, where := range r.BelongsTo {
			fmt.Fprintf(b, "    belongs: %s\n", where)
		}
		for _, why := range r.Reasons {
			fmt.Fprintf(b, "    %s: %s\n", why.Rule, why.Sentence)
		}
	}
}
