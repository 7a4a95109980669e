package trend

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

var reshim = &schedule.Item{ID: "T02", Every: schedule.Limit{Months: 24}}

func TestWhatAMeasuredValueMeans(t *testing.T) {
	five := rising[:5] // to 0.14 mm on 14 November 2019
	for _, c := range []struct {
		name                     string
		series                   *Series
		value                    string
		advice                   Advice
		verdict, compared, doing string
		trendHas                 string
	}{
		{"0.18 mm: outside, not beyond", series(endFloat, five...), "0.18 mm", Plan,
			"0.18 mm is outside its window of 0.05 to 0.15 mm, 0.03 mm above it, and short of its action limit of 0.22 mm.",
			"Last time, on 14 November 2019, it was 0.14 mm: 0.04 mm more now.",
			"Plan to put it right at the next visit, and write it into the service record under T02. It may meet its action limit from 21 November 2025 on.",
			"6 values, from 20 November 2012 to 14 November 2021"},
		{"within, and going nowhere", series(endFloat, "2017-01-01 0.10 mm", "2019-01-01 0.10 mm"), "0.10 mm", Fine,
			"0.10 mm is within its window of 0.05 to 0.15 mm.", "Last time, on 1 January 2019, it was 0.10 mm: the same.",
			"Nothing to do: write it into the service record under T02.", "3 values only"},
		{"on record already", series(endFloat, append(slices.Clone(five), "2021-11-14 0.18 mm")...), "0.18 mm", Plan,
			"0.18 mm is outside", "Last time, on 14 November 2019, it was 0.14 mm: 0.04 mm more now.", "Plan to put it right at the next visit. It may meet its action limit", "6 values"},
		{"on record already, and good", series(endFloat, "2019-01-01 0.10 mm", "2021-11-14 0.10 mm"), "0.10 mm", Fine, "0.10 mm is within", "Last time, on 1 January 2019", "Nothing to do: it is on record.", "two values only"},
		{"within, and soon no more", series(endFloat, five...), "0.15 mm", Plan,
			"0.15 mm is within its window of 0.05 to 0.15 mm.", "Last time, on 14 November 2019, it was 0.14 mm: 0.01 mm more now, no more than a step of the instrument.",
			"Good for now, but by its trend it is likely to leave its window before it is measured again: plan", "6 values"},
		{"beyond the action limit", series(endFloat, "2017-01-01 0.19 mm", "2019-01-01 0.20 mm"), "0.23 mm", Act,
			"0.23 mm is outside its window of 0.05 to 0.15 mm and beyond its action limit of 0.22 mm.",
			"Last time, on 1 January 2019, it was 0.20 mm: 0.03 mm more now.", "Act: the works' engineer is asked before the vehicle is driven on.", "3 values only"},
		{"so far off that it must be measured again", series(endFloat, five...), "0.05 mm", MeasureAgain,
			"0.05 mm is within its window", "Last time, on 14 November 2019, it was 0.14 mm: 0.09 mm less now. Wear does not go back, and nothing on record says that it was renewed or set anew.",
			"Measure again, as the programme says; or was it renewed or set anew since last time? Then record that first, for the trend begins anew with it.", "5 values"},
		{"so much worse that it must be measured again", series("mm 0.05 0.30 0.40", five...), "0.25 mm", MeasureAgain,
			"0.25 mm is within its window", "Last time, on 14 November 2019, it was 0.14 mm: 0.11 mm more now. Nothing on record explains so large a difference.",
			"Measure again, as the programme says, before anything else; if the value stands, ask what was done to the output shaft bearing since last time.", "5 values"},
		{"a lining that grew", series("mm 0.8 - 0.8", "2013-01-01 6.0 mm", "2016-01-01 2.5 mm", "2019-01-01 1.7 mm"), "5.0 mm", MeasureAgain,
			"5.0 mm is within its window of at least 0.8 mm.", "Last time, on 1 January 2019, it was 1.7 mm: 3.3 mm more now. Wear does not go back",
			"Measure again, as the programme says; or was it renewed or set anew since last time?", "Without it, until it has been measured again: 3 values only"},
		{"a lining that grew, said roughly", series("mm 0.8 - 0.8", "2016-01-01 2.5 mm", "2019-01-01 1.7 mm"), "5 mm", MeasureAgain,
			"5 mm is within its window of at least 0.8 mm.", "Last time, on 1 January 2019, it was 1.7 mm: 3.3 mm more now. Wear does not go back", "Measure again", "two values only"},
		{"a tread that went in half a year, said roughly", series("mm 3.0 - 1.6", "2017-11-14 8.4 mm", "2018-11-14 8.0 mm", "2019-11-14 7.6 mm", "2020-11-14 7.3 mm"), "3 mm", MeasureAgain,
			"3 mm is within", "Last time, on 14 November 2020, it was 7.3 mm: 4.3 mm less now. Nothing on record explains", "Measure again", "4 values"},
		{"no worse than it was rounded", series("mm 3.0 - 1.6", "2017-11-14 8.4 mm", "2018-11-14 8.0 mm", "2019-11-14 7.6 mm", "2020-11-14 7.3 mm"), "7 mm", Fine,
			"7 mm is within", "Last time, on 14 November 2020, it was 7.3 mm: 0.3 mm less now, no more than a step", "Nothing to do", "5 values"},
		{"and grew again as much: it stands", series("mm 0.8 - 0.8", "2013-01-01 6.0 mm", "2016-01-01 2.5 mm", "2019-01-01 1.7 mm", "2020-01-01 5.0 mm"), "4.9 mm", Fine,
			"4.9 mm is within its window of at least 0.8 mm.", "Last time, on 1 January 2020, it was 5.0 mm: 0.1 mm less now, no more than a step of the instrument.",
			"Nothing to do", "They are counted from the 5.0 mm of 1 January 2020 on, which is better than the 1.7 mm of 1 January 2019 although nothing on record says why"},
		{"grew, and was a slip", series("mm 0.8 - 0.8", "2013-01-01 6.0 mm", "2016-01-01 2.5 mm", "2019-01-01 1.7 mm", "2020-01-01 5.0 mm"), "1.5 mm", Fine,
			"1.5 mm is within its window of at least 0.8 mm.", "Last time, on 1 January 2020, it was 5.0 mm: 3.5 mm less now.",
			"Nothing to do", "The 5.0 mm of 1 January 2020 is left out: it is better than the 1.7 mm of 1 January 2019, and wear does not go back."},
		{"a decimal point out of place", series(endFloat, "2017-01-01 0.12 mm", "2019-01-01 0.12 mm"), "1.2 mm", Act,
			"1.2 mm is outside its window of 0.05 to 0.15 mm and beyond", "Last time, on 1 January 2019, it was 0.12 mm: 1.08 mm more now. Nothing on record explains so large a difference. It is about ten times the other: a decimal point may be out of place.",
			"Act: the works' engineer is asked before the vehicle is driven on. Measure again first, as the programme says; until that is done, take the value for right.", "two values only"},
		{"inches for millimetres", series(endFloat, "2019-01-01 0.10 mm"), "0.10 in", Act,
			"0.10 in (2.54 mm) is outside its window of 0.05 to 0.15 mm and beyond", "Last time, on 1 January 2019, it was 0.10 mm (0.0039 in): 0.096 in more now. Nothing on record explains so large a difference. It is about 25 times the other: inches",
			"Act:", "one value only"},
		{"in thou, within", series(endFloat, "2019-01-01 0.12 mm"), "5 thou", Fine,
			"5 thou (0.13 mm) is within its window of 0.05 to 0.15 mm.", "Last time, on 1 January 2019, it was 0.12 mm (4.7 thou): 0.3 thou more now, no more than a step of the instrument.", "Nothing to do", "two values only"},
		{"in thou, outside by less than it can tell", series(endFloat, "2019-01-01 0.14 mm"), "6 thou", Plan,
			"6 thou (0.152 mm) is outside its window of 0.05 to 0.15 mm, 0.002 mm above it, and short of its action limit of 0.22 mm. That is less than half a step of the instrument: it takes a finer one to tell.",
			"Last time", "Plan to put it right at the next visit, and write it", "two values only"},
		{"the first ever", series(endFloat), "0.10 mm", Fine, "0.10 mm is within", "It is the first value on record, so there is none to compare it with.", "Nothing to do", "one value only"},
		{"the first since an overhaul", series(endFloat, five...).overhauled("2020-05-01"), "0.09 mm", Fine, "0.09 mm is within",
			"Last time, on 14 November 2019, it was 0.14 mm, but since then the output shaft bearing was overhauled (1 May 2020): the two do not compare, and this is the first value since.",
			"Nothing to do", "one value only since the output shaft bearing was overhauled on 1 May 2020"},
		{"after a value of the day of the overhaul", series(endFloat, five...).overhauled("2019-11-14"), "0.09 mm", Fine, "0.09 mm is within",
			"Last time, on 14 November 2019, it was 0.14 mm, but that was the day on which the output shaft bearing was overhauled: whether it was measured before or after is not on record",
			"Nothing to do", "one value only since"},
		{"after what it was left at", series(endFloat, five...).overhauled("2019-11-14").stage("2019-11-14", AsLeft), "0.15 mm", Fine, "0.15 mm is within",
			"Last time, on 14 November 2019, it was left at 0.14 mm: 0.01 mm more now", "Nothing to do", "two values only since"},
		{"after what it was left at, with a pack of shims", series(endFloat, five...).overhauled("2019-11-14").pack("0.58 mm", "0.51 mm").stage("2019-11-14", AsLeft), "0.15 mm", Fine, "0.15 mm is within",
			"Last time, on 14 November 2019, it was left at 0.14 mm with a pack of 0.51 mm: 0.01 mm more now", "Nothing to do", "two values only since"},
		{"after what a later day left, the pack is not of that day", series(endFloat, five...).overhauled("2017-11-14").pack("0.58 mm", "0.51 mm").stage("2019-11-14", AsLeft), "0.15 mm", Fine, "0.15 mm is within",
			"Last time, on 14 November 2019, it was left at 0.14 mm: 0.01 mm more now", "Nothing to do", ""},
		{"after what it was found at", series(endFloat, five...).overhauled("2019-11-14").stage("2019-11-14", AsFound), "0.09 mm", Fine, "0.09 mm is within",
			"Last time, on 14 November 2019, it was found at 0.14 mm, but since then the output shaft bearing was overhauled (14 November 2019): the two do not compare, and", "Nothing to do", "one value only since"},
		{"without a limit", series("", five...), "0.15 mm", NoAdvice, "The programme in force has no limit for the end float of the output shaft bearing, so 0.15 mm can be held against nothing.",
			"Last time", "Ask the works' engineer whether the value is right, and write", "6 values"},
		{"below a window whose action limit is above", series(endFloat, "2019-01-01 0.06 mm"), "0.04 mm", Act,
			"0.04 mm is outside its window of 0.05 to 0.15 mm, 0.01 mm below it; there is no action limit on that side.", "Last time", "Act:", "two values only"},
	} {
		got := c.series.Judge(Question{Quantity: quantity(c.value), Date: day("2021-11-14"), Item: reshim})
		if got.Advice != c.advice {
			t.Errorf("%s: advice %d, want %d", c.name, got.Advice, c.advice)
		}
		for _, p := range [][2]string{{got.Verdict.Sentence, c.verdict}, {got.Compared.Sentence, c.compared}, {got.Doing.Sentence, c.doing}} {
			if !strings.HasPrefix(p[0], p[1]) {
				t.Errorf("%s:\n got %s\nwant %s", c.name, p[0], p[1])
			}
		}
		if !strings.Contains(got.Trend.Reason.Sentence, c.trendHas) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got.Trend.Reason.Sentence, c.trendHas)
		}
	}
}

// A growth of more than 0.05 mm between two checks is to be looked into
// (common practice, no source: tasks T02).
func TestGrowthBetweenTwoChecksIsLookedInto(t *testing.T) {
	s := series(endFloat, "2017-01-01 0.07 mm", "2019-01-01 0.07 mm")
	for value, want := range map[string]bool{"0.12 mm": false, "0.13 mm": true} {
		got := s.Judge(Question{Quantity: quantity(value), Date: day("2021-11-14"), Item: reshim})
		if got.Implausible != want {
			t.Errorf("%s after 0.07 mm: %t", value, got.Implausible)
		}
	}
}

func TestJudgingKeepsNothing(t *testing.T) {
	s := series(endFloat, rising...)
	before := slices.Clone(s.Values)
	s.Judge(Question{Quantity: quantity("0.18 mm"), Date: day(today), Item: reshim})
	if !slices.Equal(before, s.Values) {
		t.Error("the series has changed")
	}
}

// The further past its limit, the more urgent; and a judgement in other units is
// the same judgement.
func TestFurtherPastALimitIsNeverLessUrgent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := draw(t)
		n := rapid.Int64Range(-90, 90).Draw(t, "value")
		ask := func(n int64, scale uint8, unit string) Judgement {
			return s.Judge(Question{Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: n, Scale: scale}, Unit: unit}, Date: day(today), Item: reshim})
		}
		a := ask(n, 2, "mm")
		if b := ask(n, 3, "cm"); b.Against.Verdict != a.Against.Verdict || b.Advice != a.Advice || b.Implausible != a.Implausible {
			t.Fatalf("in centimetres %+v\nin millimetres %+v", b, a)
		}
		if a.Against.Verdict == Within {
			return
		}
		further := rapid.Int64Range(0, 60).Draw(t, "further")
		if a.Against.Low {
			further = -further
		}
		b := ask(n+further, 2, "mm")
		if b.Against.Verdict < a.Against.Verdict {
			t.Fatalf("%d is %d, %d is %d", n, a.Against.Verdict, n+further, b.Against.Verdict)
		}
		// A value may become plausible on the way; what the limit alone demands
		// may not become less.
		if a.Advice == Act && b.Advice != Act {
			t.Fatalf("%d is to act, %d is %d", n, n+further, b.Advice)
		}
		if a.Verdict.Sentence == "" || a.Compared.Sentence == "" || a.Doing.Sentence == "" || math.IsNaN(a.Trend.Scatter) {
			t.Fatalf("nothing said: %+v", a)
		}
	})
}
