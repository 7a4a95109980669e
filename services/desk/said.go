package desk

import (
	"cmp"
	"fmt"
	"html/template"
	"net/url"
	"regexp"
	"strings"

	"github.com/nyaruka/phonenumbers"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"

	"google.golang.org/genproto/googleapis/type/date"
)

// entry is one thing of a list: what it is, what there is to say of it, and what
// can be done about it.
type entry struct {
	Term   string
	Path   string // where the term leads
	Mono   bool
	Mark   string // a word that stands out: "overdue"
	Soon   bool   // and stands out less
	Text   string
	Sub    string
	Reach  []reach  // how somebody is reached
	More   []string // reasons and the like, which a reader opens
	Action []link

	MoreLabel string // what is opened; "" for "Why"
}

// reach is a way to somebody, which a telephone dials or a mail program opens.
type reach struct {
	Label   string
	Address template.URL
}

// dialled is a telephone number as a link, written with the spaces of its
// country.
func dialled(phone string) reach {
	n, err := phonenumbers.Parse(phone, "")
	if err != nil || phonenumbers.Format(n, phonenumbers.E164) != phone {
		return reach{Label: phone} // nothing to dial; the label says what is on record
	}
	return reach{phonenumbers.Format(n, phonenumbers.INTERNATIONAL), template.URL("tel:" + phone)} // digits and a plus
}

func mailed(address string) reach {
	return reach{address, template.URL("mailto:" + url.PathEscape(address))} // escaped
}

// word makes a value of an enumeration readable: "DUE_STATE_NOT_YET" without its
// prefix is "not yet".
func word(value fmt.Stringer, prefix string) string {
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(value.String(), prefix), "_", " "))
}

// place is a position for people: "front axle differential"; and any other
// identifier of words, the grades of fluids among them: "gear oil GL5".
func place(position string) string {
	return grade.ReplaceAllStringFunc(strings.ReplaceAll(position, "-", " "), strings.ToUpper)
}

// grade is a word of an identifier that stands in capitals on a can.
var grade = regexp.MustCompile(`\b(gl|dot)[0-9]`)

// unitOf is the unit of a dial; miles where none is on record.
func unitOf(text string) vehicle.Unit {
	u, err := vehicle.ParseUnit(text)
	if err != nil {
		return vehicle.Miles
	}
	return u
}

// distance prints a true distance in a unit.
func distance(d *vehiclev1.Distance, unit string) string {
	return vehicle.Distance(d.GetMillimetres()).Text(unitOf(unit))
}

// entered prints a distance as it was entered, for reading: "7,221 miles",
// "66,350.5 km"; "" for none.
func entered(d *vehiclev1.Distance) string {
	number, unit, _ := strings.Cut(typedAs(d), " ")
	number = wording.Grouped(number)
	switch {
	case unit == string(vehicle.Miles) && number == "1":
		unit = "mile"
	case unit == string(vehicle.Miles):
		unit = "miles"
	}
	return strings.TrimSpace(number + " " + unit)
}

// typedAs gives a distance as it is typed into a field: "7221 mi"; "" for none.
func typedAs(d *vehiclev1.Distance) string {
	if d.GetEnteredUnit() == "" {
		return ""
	}
	value, err := vehiclewire.Entered(d)
	if err != nil {
		return d.GetEnteredValue() + " " + d.GetEnteredUnit()
	}
	return value.String()
}

func quantity(q *vehiclev1.Quantity) string {
	return strings.TrimSpace(q.GetValue() + " " + q.GetUnit())
}

// typed reads what is entered into the fields of a form, and keeps everything
// that is wrong with it.
type typed struct {
	*visit
	wrong []fault.Field
	order []string // of the conditions of a set, the field of each
}

// err is what is wrong, if anything is.
func (t *typed) err() error { return fault.InvalidFields(t.wrong) }

// date reads a day; nil where none was entered.
func (t *typed) date(name string) *date.Date {
	text := t.value(name)
	if text == "" {
		return nil
	}
	d, err := vehicle.ParseDate(text)
	if err != nil {
		t.wrong = append(t.wrong, fault.Field{Name: name, Got: text, Want: "a day, as in 2026-05-18"})
		return nil
	}
	return vehiclewire.DateProto(d)
}

// dial reads what an odometer showed: "41,230", "41230.5 km"; in the unit of the
// dial unless another is said. It is nil where nothing was entered.
func (t *typed) dial(name, unit string) *vehiclev1.Distance {
	text := t.value(name)
	if text == "" {
		return nil
	}
	digits, said, _ := strings.Cut(text, " ")
	u, err := vehicle.ParseUnit(cmp.Or(strings.TrimSpace(said), string(unitOf(unit))))
	value, errValue := vehicle.ParseDecimal(ungrouped(digits))
	if err != nil || errValue != nil {
		t.wrong = append(t.wrong, fault.Field{Name: name, Got: text, Want: "what the odometer showed, as in 41230 or 66350 km"})
		return nil
	}
	return vehiclewire.EnteredProto(vehicle.Entered{Value: value, Unit: u})
}

// inGroups is a number whose digits are grouped by thousands: "41,230.5".
var inGroups = regexp.MustCompile(`^[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]+)?$`)

// ungrouped takes the commas out that group the digits of a number. Any other
// comma stays, and is refused with the number: "41230,5" of somebody who writes
// decimals so would be read as ten times as much.
func ungrouped(number string) string {
	if inGroups.MatchString(number) {
		return strings.ReplaceAll(number, ",", "")
	}
	return number
}

// quantity reads a measured value: "0.10", "4 thou"; in the unit asked for
// unless another is said.
func (t *typed) quantity(name, unit string) *vehiclev1.Quantity {
	text := t.value(name)
	if text == "" {
		return nil
	}
	q, err := vehicle.ParseQuantity(text)
	if err != nil && unit != "" {
		q, err = vehicle.ParseQuantity(text + " " + unit)
	}
	if err != nil {
		t.wrong = append(t.wrong, fault.Field{Name: name, Got: text, Want: "a number, as in 0.10, with its unit where that is not " + cmp.Or(unit, "said")})
		return nil
	}
	return vehiclewire.QuantityProto(q)
}

// lower is the word of an enumeration's value: "DONE_WRONG" is "done-wrong".
func lower(value string) string { return strings.ToLower(strings.ReplaceAll(value, "_", "-")) }
