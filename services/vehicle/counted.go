package vehicle

import (
	"regexp"
	"strconv"
	"strings"

	"halfshaft/services/fault"
)

// Counted is some pieces of one size, as shims are listed: "0.25 mm x2", with
// their part number where it is known: "0.25 mm x2 (AP-2074)". Count is 0 where
// none was written, which counts as 1.
type Counted struct {
	Size  Quantity
	Count int
	Part  string
}

var countedForm = regexp.MustCompile(`^(?:([1-9][0-9]{0,8})\s*[xX×]\s*)?(.*?)(?:\s*[xX×]\s*([1-9][0-9]{0,8}))?(?:\s+\(([^()\s;,+]+)\))?$`)

// ParseCounted reads a list separated by semicolons, commas, plus signs or new
// lines; the count may stand in front, as in "2 × 0.25 mm + 0.13 mm". The error
// is a *fault.Error of kind Invalid with the reason COUNTED; a unit that
// UnitName does not know is one too, for "mm x2 0.13 mm" is none.
func ParseCounted(text string) ([]Counted, error) {
	var all []Counted
	for entry := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ';' || r == ',' || r == '+' || r == '\n' }) {
		if entry = strings.TrimSpace(entry); entry == "" {
			continue
		}
		m := countedForm.FindStringSubmatch(entry)
		if m == nil || m[1] != "" && m[3] != "" {
			return nil, notCounted(entry)
		}
		size, err := ParseQuantity(m[2])
		if _, known := UnitName(size.Unit); err != nil || !known {
			return nil, notCounted(entry)
		}
		count, _ := strconv.Atoi(m[1] + m[3]) // one of them is empty, the other has nine digits at most
		all = append(all, Counted{Size: size, Count: count, Part: m[4]})
	}
	return all, nil
}

func notCounted(entry string) error {
	return &fault.Error{
		Kind: fault.Invalid, Reason: "COUNTED", Message: "not a list of sizes",
		Fields: []fault.Field{{Name: "value", Got: entry, Want: "sizes with how many of each, separated by semicolons: 0.25 mm x2; 0.13 mm"}},
	}
}

// String writes it as ParseCounted reads it.
func (c Counted) String() string {
	text := c.Size.String()
	if c.Count > 0 {
		text += " x" + strconv.Itoa(c.Count)
	}
	if c.Part != "" {
		text += " (" + c.Part + ")"
	}
	return text
}
