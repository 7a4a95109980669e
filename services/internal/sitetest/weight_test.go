package sitetest

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"halfshaft/services/internal/racetest"
)

// heaviest is what a page may weigh at most, in bytes, with all that a browser
// fetches for it and before anything is packed together: a slow line brings it in
// a moment. A handbook is a whole book, and may weigh more.
const heaviest = 100_000

// loads are what a page makes a browser fetch besides.
var loads = regexp.MustCompile(`<(?:link rel="stylesheet" href|script src|img src)="([^"]+)"`)

// weight is what a page and all that it loads weigh, in bytes.
func (s *site) weight(p sheet) (page, all int, err error) {
	address := s.address(p)
	c := s.people[nobody]
	if k := s.people[p.as]; k != nil {
		c = k
	}
	a, err := c.get(address)
	if err != nil {
		return 0, 0, err
	}
	at, err := url.Parse(address)
	if err != nil {
		return 0, 0, err
	}
	page, all = len(a.body), len(a.body)
	for _, found := range loads.FindAllStringSubmatch(a.body, -1) {
		to, err := at.Parse(found[1])
		if err != nil {
			return 0, 0, err
		}
		part, err := c.get(to.String())
		if err == nil && part.status != http.StatusOK {
			err = fmt.Errorf("%s: got %d", to, part.status)
		}
		if err != nil {
			return 0, 0, err
		}
		all += len(part.body)
	}
	return page, all, nil
}

func TestNoPageIsHeavy(t *testing.T) {
	racetest.Skip(t, "pages are fetched one after the other")
	s := theSite(t)
	for _, p := range pages() {
		if p.send != "" || p.book {
			continue
		}
		page, all, err := s.weight(p)
		if err != nil {
			t.Errorf("%s: %v", p.name(), err)
		} else if all > heaviest {
			t.Errorf("%s: %d bytes, and %d with what it loads; at most %d", p.name(), page, all, heaviest)
		}
	}
}

// timed is what one page costs.
type timed struct {
	name         string
	page, all    int
	median, most time.Duration // most: not exceeded by 95 in 100
	processor    time.Duration // for one, on the average
}

// BenchmarkPages prints of each page what it weighs and how long it takes, over
// TCP on this machine: `make bench BENCH=Pages`.
func BenchmarkPages(b *testing.B) {
	s := theSite(b)
	if _, _, err := s.measure(1); err != nil { // what is read once for all
		b.Fatal(err)
	}
	var all []timed
	var every []time.Duration
	for b.Loop() {
		var err error
		if all, every, err = s.measure(turns); err != nil {
			b.Fatal(err)
		}
	}
	median, most := spread(every)
	b.ReportMetric(milliseconds(median), "p50-ms")
	b.ReportMetric(milliseconds(most), "p95-ms")
	b.ReportMetric(float64(slices.MaxFunc(all, func(x, y timed) int { return x.all - y.all }).all), "heaviest-bytes")
	b.ReportMetric(0, "ns/op")
	b.Log("\n" + table(all, every))
}

// turns is how often each page is asked for.
const turns = 40

// spread gives the median and the 95th of a hundred.
func spread(took []time.Duration) (median, most time.Duration) {
	if len(took) == 0 {
		return 0, 0
	}
	took = slices.Sorted(slices.Values(took))
	return took[len(took)/2], took[min(len(took)*95/100, len(took)-1)]
}

func milliseconds(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// time asks for a page once, and measures until its last byte.
func (s *site) time(p sheet) (time.Duration, error) {
	c := s.people[nobody]
	if k := s.people[p.as]; k != nil {
		c = k
	}
	r, err := http.NewRequest(http.MethodGet, s.address(p), nil)
	if err != nil {
		return 0, err
	}
	begin := time.Now()
	a, err := c.http.Do(r)
	if err != nil {
		return 0, err
	}
	defer a.Body.Close()
	_, err = io.Copy(io.Discard, a.Body)
	return time.Since(begin), err
}

// measure asks for each page some times.
func (s *site) measure(turns int) (all []timed, every []time.Duration, err error) {
	for _, p := range pages() {
		if p.send != "" || p.book {
			continue
		}
		x := timed{name: p.name()}
		before := processor()
		var took []time.Duration
		for range turns {
			one, err := s.time(p)
			if err != nil {
				return nil, nil, err
			}
			took = append(took, one)
		}
		x.processor = (processor() - before) / time.Duration(turns)
		x.median, x.most = spread(took)
		if x.page, x.all, err = s.weight(p); err != nil {
			return nil, nil, err
		}
		all, every = append(all, x), append(every, took...)
	}
	return all, every, nil
}

// processor is what this process has had of the processors: the services, the
// pages and who asks for them.
func processor() time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		return 0
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// table writes what pages cost, the slowest first.
func table(all []timed, every []time.Duration) string {
	var b strings.Builder
	slices.SortFunc(all, func(x, y timed) int { return int(y.most - x.most) })
	fmt.Fprintf(&b, "%-70s %10s %10s %8s %8s %8s\n", "page", "bytes", "with all", "p50 ms", "p95 ms", "cpu ms")
	for _, x := range all {
		fmt.Fprintf(&b, "%-70s %10d %10d %8.1f %8.1f %8.1f\n", x.name, x.page, x.all, milliseconds(x.median), milliseconds(x.most), milliseconds(x.processor))
	}
	median, most := spread(every)
	fmt.Fprintf(&b, "%-70s %10s %10s %8.1f %8.1f\n", "all of them", "", "", milliseconds(median), milliseconds(most))
	fmt.Fprintf(&b, "\nOver %v: %s. Other work on the machine counts too: look at the processor's time.\n", longest, tooLong(all))
	return b.String()
}

// longest is what 95 of 100 views of a page are to take at most.
const longest = 20 * time.Millisecond

// tooLong names the pages that take longer.
func tooLong(all []timed) string {
	var names []string
	for _, x := range all {
		if x.most > longest {
			names = append(names, fmt.Sprintf("%s (%.1f ms, %.1f of the processor)", x.name, milliseconds(x.most), milliseconds(x.processor)))
		}
	}
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}

func TestPagesThatTakeLongAreNamed(t *testing.T) {
	quick := timed{name: "quick", most: longest}
	slow := timed{name: "slow", most: longest + time.Millisecond, processor: 15 * time.Millisecond}
	if got := tooLong([]timed{quick}); got != "none" {
		t.Errorf("of quick ones: %q", got)
	}
	if got, want := tooLong([]timed{quick, slow}), "slow (21.0 ms, 15.0 of the processor)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
