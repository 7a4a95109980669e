package warranty

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Bounds of what a term may say.
const (
	maxMonths   = 600
	maxDistance = 1_000_000 * vehicle.Mile
	maxLine     = 200  // characters
	maxText     = 2000 // characters
	maxList     = 200
)

var (
	termID       = regexp.MustCompile(`^[A-Z0-9]+(-[A-Z0-9]+)*$`)
	positionName = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
)

// checker collects what is wrong, all of it.
type checker struct{ fields []fault.Field }

func (c *checker) must(ok bool, name, got, want string) {
	if !ok {
		c.fields = append(c.fields, fault.Field{Name: name, Got: got, Want: want})
	}
}

func (c *checker) text(name, s string, most int, needed bool) {
	want := "text of 1 to " + fault.Characters(most)
	if !needed {
		want = "text of up to " + fault.Characters(most)
	}
	c.must((s != "" || !needed) && readable(s, most), name, s, want+", without control characters and blanks around it")
}

func (c *checker) number(name string, n, least, most int64) {
	c.must(n >= least && n <= most, name, strconv.FormatInt(n, 10), fmt.Sprintf("%d to %d", least, most))
}

// names checks a list in which each stands once.
func (c *checker) names(name string, list []string, form func(string) bool, want string) {
	c.must(len(list) <= maxList, name, strconv.Itoa(len(list)), fmt.Sprintf("at most %d", maxList))
	seen := map[string]bool{}
	for i, s := range list {
		at := fmt.Sprintf("%s[%d]", name, i)
		c.must(form(s), at, s, want)
		c.must(!seen[s], at, s, "each only once")
		seen[s] = true
	}
}

// readable says whether a text can be printed, with line breaks.
func readable(s string, most int) bool {
	return !fault.Longer(s, most) && utf8.ValidString(s) && strings.TrimSpace(s) == s && !strings.ContainsFunc(s, func(r rune) bool {
		return r != '\n' && unicode.IsControl(r)
	})
}

func isName(s string) bool {
	return s != "" && readable(s, 64) && !strings.ContainsAny(s, " /\n")
}

// Faults says what is wrong with a version by itself, in the names of the API.
func (t *Term) Faults() []fault.Field {
	var c checker
	c.must(termID.MatchString(t.ID) && len(t.ID) <= 32, "name", t.ID, "capital letters, digits and hyphens, at most 32, as in WORKS-12")
	c.number("name", int64(t.Version), 1, 9999)
	c.text("title", t.Title, maxLine, true)
	c.giver(t)
	c.must(t.Start > NoStart && t.Start < startsEnd, "start", fmt.Sprint(t.Start), "delivery, fitting, build, registration or repair")
	c.must(t.Midnight < midnightsEnd, "midnight", fmt.Sprint(t.Midnight), "either, the works' or the owner's")
	c.names("releases", t.Releases, isName, "a release, as in R3")
	c.names("positions", t.Positions, positionName.MatchString, "lower-case words joined by hyphens")
	c.names("parts", t.Parts, isName, "a part number")
	c.number("months", int64(t.Months), 0, maxMonths)
	c.number("distance", int64(t.Distance), 0, int64(maxDistance))
	c.must(t.CoversParts || t.CoversWork || t.Withdrawn, "covers_parts", "false", "that or covers_labour, or both")
	c.must(t.Start != FromFitting || !t.WholeVehicle(), "positions", "", "positions or parts, for a term that begins with a fitting")
	c.exclusions(t.Exclusions)
	c.must(len(t.Conditions) <= maxList, "conditions", strconv.Itoa(len(t.Conditions)), fmt.Sprintf("at most %d", maxList))
	for i, s := range t.Conditions {
		c.text(fmt.Sprintf("conditions[%d]", i), s, maxText, true)
	}
	c.number("repair.months", int64(t.Repair.Months), 0, maxMonths)
	c.number("repair.distance", int64(t.Repair.Distance), 0, int64(maxDistance))
	c.must(t.Repair.Distance == 0 || t.Repair.Months > 0, "repair.months", "0", "1 or more, where a repair gets a distance of its own")
	c.must(t.Effective.Valid(), "effective_date", t.Effective.String(), "the first day on which vehicles get this version")
	c.must(t.Sample || t.SignedBy != "", "signed_by", "", "who signed it, or that it is a sample")
	c.must(!t.Sample || t.SignedBy == "", "sample", "true", "false, for what somebody signed")
	c.text("signed_by", t.SignedBy, maxLine, false)
	return c.fields
}

func (c *checker) giver(t *Term) {
	c.must(t.Giver == Works || t.Giver == Supplier, "giver", fmt.Sprint(t.Giver), "the works or a supplier")
	c.must(t.Giver != Works || t.Supplier == "", "supplier", t.Supplier, "nothing, for a term of the works")
	c.text("supplier", t.Supplier, maxLine, t.Giver == Supplier)
}

func (c *checker) exclusions(all []Exclusion) {
	c.must(len(all) <= maxList, "exclusions", strconv.Itoa(len(all)), fmt.Sprintf("at most %d", maxList))
	seen := map[string]bool{}
	for i, x := range all {
		at := fmt.Sprintf("exclusions[%d]", i)
		c.must(positionName.MatchString(x.ID) && len(x.ID) <= 64, at+".exclusion_id", x.ID, "lower-case words joined by hyphens, as in wear")
		c.must(!seen[x.ID], at+".exclusion_id", x.ID, "each only once")
		seen[x.ID] = true
		c.text(at+".text", x.Text, maxText, true)
		c.names(at+".positions", x.Positions, positionName.MatchString, "lower-case words joined by hyphens")
	}
}

// Admit decides whether a version may stand beside those there are: nil, or a
// refusal. Versions count up by one, each is for later vehicles than the one
// before, and the giver stays the same.
func Admit(beside []Term, t Term) error {
	last := (*Term)(nil)
	for i := range beside {
		if b := &beside[i]; b.ID == t.ID {
			if b.Version == t.Version {
				return fault.New(fault.AlreadyExists, "TERM_VERSION", "%s is recorded already, and a version never changes.", t.Name())
			}
			if last == nil || b.Version > last.Version {
				last = b
			}
		}
	}
	if last == nil {
		if t.Version != 1 {
			return fault.InvalidField("name", strconv.Itoa(t.Version), "1, for the first version")
		}
		return nil
	}
	var c checker
	c.must(t.Version == last.Version+1, "name", strconv.Itoa(t.Version), fmt.Sprintf("%d, the version after the last", last.Version+1))
	c.must(t.Effective.After(last.Effective), "effective_date", t.Effective.String(), "later than "+last.Effective.String()+", from which the version before holds")
	c.must(t.Giver == last.Giver, "giver", fmt.Sprint(t.Giver), "as in the version before")
	c.must(t.Supplier == last.Supplier, "supplier", t.Supplier, last.Supplier+", as in the version before")
	return fault.InvalidFields(c.fields)
}
