package parts

import (
	"regexp"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// optionsThatMatter are those by which rows of a position may hold or not: that
// they name, that change what stands at its assembly, that fit a part the rows
// ask for, or that an expression may ask about.
func (s *surveyor) optionsThatMatter(r *build.Release, root string, rows []*Conditions) []string {
	var out []string
	for i := range r.Options {
		if o := &r.Options[i]; s.matters(r, o, root, rows) {
			out = append(out, o.ID)
		}
	}
	return out
}

func (s *surveyor) matters(r *build.Release, o *build.Option, root string, rows []*Conditions) bool {
	touches := slices.Clone(o.Removes)
	for _, f := range o.Fitments {
		touches = append(touches, f.Position)
	}
	if slices.Contains(touches, root) {
		return true
	}
	for _, c := range rows {
		if slices.Contains(c.Options, o.ID) || slices.Contains(c.Without, o.ID) {
			return true
		}
		for _, together := range c.Together {
			if s.fits(r, touches, together) {
				return true
			}
		}
		if asksAbout(c.AppliesWhen, o.ID, touches) {
			return true
		}
	}
	return false
}

// asksAbout says whether an expression may depend on an option that touches
// some positions: it names one of them, or goes through all there are.
func asksAbout(expression, option string, touches []string) bool {
	return strings.Contains(expression, option) || strings.Contains(expression, "fitted.") || strings.Contains(expression, "options.") ||
		strings.Contains(expression, "(fitted)") || strings.Contains(expression, "(options)") ||
		slices.ContainsFunc(touches, func(p string) bool { return strings.Contains(expression, p) })
}

// fits says whether an option may bring a part, or take it away: the part, one
// that supersessions connect with it, or a kit that holds one of these.
func (s *surveyor) fits(r *build.Release, touches []string, number string) bool {
	family := s.catalogue.family(number)
	counts := func(f build.Fitment) bool {
		return slices.Contains(touches, f.Position) && (slices.Contains(family, f.Part) ||
			slices.ContainsFunc(contents(s.catalogue.Part(f.Part)), func(held string) bool { return slices.Contains(family, held) }))
	}
	return slices.ContainsFunc(r.Fitments, counts) ||
		slices.ContainsFunc(r.Options, func(o build.Option) bool { return slices.ContainsFunc(o.Fitments, counts) })
}

// optionSets gives every set of options that a vehicle can be built with, each
// with what it needs.
func optionSets(r *build.Release, options []string) [][]string {
	var sets [][]string
	seen := map[string]bool{}
	for mask := range 1 << len(options) {
		var set []string
		for i, id := range options {
			if mask&(1<<i) != 0 {
				set = append(set, id)
			}
		}
		set = withNeeds(r, set)
		if key := strings.Join(set, "\x00"); buildable(r, set) && !seen[key] {
			seen[key] = true
			sets = append(sets, set)
		}
	}
	return sets
}

// withNeeds adds what the options of a set need, in order of name.
func withNeeds(r *build.Release, set []string) []string {
	for i := 0; i < len(set); i++ {
		if o := r.Option(set[i]); o != nil {
			for _, need := range o.Requires {
				if !slices.Contains(set, need) {
					set = append(set, need)
				}
			}
		}
	}
	slices.Sort(set)
	return set
}

func buildable(r *build.Release, set []string) bool {
	for _, id := range set {
		o := r.Option(id)
		if o == nil || slices.ContainsFunc(o.Excludes, func(x string) bool { return slices.Contains(set, x) }) {
			return false
		}
	}
	return true
}

// divisions are the bounds at which rows tell vehicles of one outfit apart.
type divisions struct {
	serials []vehicle.Serial
	days    []vehicle.Date
	markets []string
	lots    []string
	bases   []string // wheelbases
}

// another stands for every market or lot that no row names.
const another = "another"

func divide(rows []*Conditions, earliest vehicle.Date) divisions {
	d := divisions{days: []vehicle.Date{earliest}, markets: []string{another}, lots: []string{another}, bases: []string{"short"}}
	for _, c := range rows {
		for _, s := range append(slices.Clone(c.Except), c.FirstSerial, c.LastSerial) {
			if s != "" {
				d.serials = append(d.serials, s, following(s))
			}
		}
		if c.BuiltFrom.After(earliest) {
			d.days = append(d.days, c.BuiltFrom)
		}
		if next := c.BuiltUntil; !next.IsZero() && !next.Before(earliest) {
			d.days = append(d.days, next.AddDays(1))
		}
		d.markets, d.lots = append(d.markets, c.Markets...), append(d.lots, c.Lots...)
		d.markets = append(d.markets, comparedWith("market", c.AppliesWhen)...)
		if bases := comparedWith("wheelbase", c.AppliesWhen); len(bases) > 0 {
			d.bases = append(append(d.bases, "long"), bases...)
		}
	}
	// The first serial of all stands for those before every bound.
	d.serials = append(d.serials, "A")
	slices.SortFunc(d.serials, compareSerials)
	d.serials = slices.CompactFunc(d.serials, func(a, b vehicle.Serial) bool { return a.Body() == b.Body() })
	slices.SortFunc(d.days, vehicle.Date.Compare)
	d.days = slices.Compact(d.days)
	d.markets, d.lots, d.bases = sortedUnique(d.markets), sortedUnique(d.lots), sortedUnique(d.bases)
	return d
}

// comparedWith gives the texts that an expression compares one of its variables
// with; all that stand in quotes where it uses the variable in another way than
// beside a text or a list of them. One too many of these would be a vehicle that
// there is none of.
func comparedWith(variable, expression string) []string {
	if !strings.Contains(expression, variable) {
		return nil
	}
	uses := len(regexp.MustCompile(`\b`+variable+`\b`).FindAllString(expression, -1))
	if uses == 0 {
		return nil
	}
	const text = `("[^"]*"|'[^']*')`
	var out []string
	beside := regexp.MustCompile(`\b` + variable + `\s*[!=]=\s*` + text + `|` + text + `\s*[!=]=\s*` + variable + `\b|\b` + variable + `\s+in\s*\[([^\]]*)\]`)
	for _, m := range beside.FindAllStringSubmatch(expression, -1) {
		uses--
		out = append(out, literals(m[0])...)
	}
	if uses > 0 {
		return literals(expression)
	}
	return out
}

// literals are the texts that an expression compares with: what stands in
// quotes. One too many is only a vehicle too many.
func literals(expression string) []string {
	var out []string
	for {
		i := strings.IndexAny(expression, `"'`)
		if i < 0 {
			return out
		}
		text, rest, closed := strings.Cut(expression[i+1:], expression[i:i+1])
		if !closed {
			return out
		}
		if text != "" {
			out = append(out, text)
		}
		expression = rest
	}
}

// following is the serial that a works gives out after another, with a check
// character that is not its own: only the body is looked at. After 99 comes 100,
// after 9Z comes 10A.
func following(s vehicle.Serial) vehicle.Serial {
	body := []byte(s.Body())
	for i := len(body) - 1; i >= 0; i-- {
		switch {
		case body[i] == '9' && (i == 0 || body[i-1] >= 'A'):
			body[i] = '0'
			return vehicle.Serial(slices.Insert(body, i, '1')) + "?"
		case body[i] == '9':
			body[i] = '0'
		case body[i] == 'Z':
			body[i] = 'A'
		default:
			body[i]++
			return vehicle.Serial(body) + "?"
		}
	}
	return "A" + vehicle.Serial(body) + "?"
}

// count gives how many divisions there are, or most where there are more.
func (d *divisions) count(most int) int {
	return product(most, len(d.serials), len(d.days), len(d.markets), len(d.lots), len(d.bases))
}

// each gives one vehicle of each division of an outfit; it must not be kept.
func (d *divisions) each(o *outfit, f func(on *subject)) {
	makeup := o.makeup
	on := subject{release: o.release.ID, options: o.conf.Options, makeup: &makeup, anywhere: o.anywhere}
	for n := range d.count(mostJudged) {
		on.serial, n = d.serials[n%len(d.serials)], n/len(d.serials)
		on.built, n = d.days[n%len(d.days)], n/len(d.days)
		on.market, n = d.markets[n%len(d.markets)], n/len(d.markets)
		on.lots, n = []string{d.lots[n%len(d.lots)]}, n/len(d.lots)
		makeup.Market, makeup.Wheelbase = on.market, d.bases[n]
		f(&on)
	}
}

// words says what tells a vehicle apart, as far as the rows look at it.
func (d *divisions) words(on *subject) string {
	text := ""
	if len(d.serials) > 1 && len(on.serial) > 1 {
		text += ", serial " + on.serial.Body()
	}
	if len(d.days) > 1 {
		text += ", built on " + on.built.Long()
	}
	if len(d.markets) > 1 {
		text += ", market " + on.market
	}
	if len(d.lots) > 1 {
		text += ", lot " + on.lots[0]
	}
	if len(d.bases) > 1 {
		text += ", wheelbase " + on.makeup.Wheelbase
	}
	return text
}
