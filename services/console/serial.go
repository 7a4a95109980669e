package console

import (
	"encoding/json"
	"fmt"
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// mostSerials is how many new serials are listed at once.
const mostSerials = 10_000

// newSerial is the answer for the number of one new vehicle.
type newSerial struct {
	Number string         `json:"number"`
	Serial vehicle.Serial `json:"serial,omitempty"` // empty when the number cannot be used
	Check  string         `json:"check"`            // the check character that the number has, or would have
	Next   vehicle.Serial `json:"next,omitempty"`   // for a number that cannot be used
}

// Serials prints the check character of the numbers of new vehicles, or that a
// number cannot be used and the next that can. With a count it prints that
// many serials from the first number on instead. It asks no service: whether a
// vehicle has the number already is for Find to say.
func (c *Console) Serials(numbers []string, count int) error {
	bodies := make([]string, len(numbers))
	for i, n := range numbers {
		var err error
		if bodies[i], err = vehicle.ParseBody(n); err != nil {
			return err
		}
	}
	switch {
	case count < 0 || count > mostSerials:
		return fault.InvalidField("count", strconv.Itoa(count), fmt.Sprintf("1 to %d", mostSerials))
	case count > 0 && len(bodies) != 1:
		return fault.InvalidField("count", strconv.Itoa(count), "one number to count from")
	case count > 0:
		return c.countSerials(bodies[0], count)
	}
	for _, body := range bodies {
		if err := c.oneSerial(body); err != nil {
			return err
		}
	}
	return nil
}

func (c *Console) oneSerial(body string) error {
	check, err := vehicle.CheckCharacter(body)
	if err != nil {
		return err
	}
	a := newSerial{Number: body, Check: string(rune(check))}
	if s, err := vehicle.NewSerial(body); err == nil {
		a.Serial = s
	} else if next, ok := vehicle.NextIssuable(body); ok {
		a.Next = next
	}
	if c.JSON {
		return c.printJSON(a)
	}
	switch {
	case a.Serial != "":
		_, err = fmt.Fprintf(c.Out, "%s: the check character is %s, the serial %s (%s).\n", body, a.Check, a.Serial, a.Serial.Spoken())
	case a.Next != "":
		_, err = fmt.Fprintf(c.Out, "%s cannot be used: its check character would be %s, and *, I and O are never issued. The next that can is %s, the serial %s.\n",
			body, a.Check, a.Next.Body(), a.Next)
	default:
		_, err = fmt.Fprintf(c.Out, "%s cannot be used: its check character would be %s, and *, I and O are never issued. No later number of its form can be used either.\n", body, a.Check)
	}
	return err
}

// countSerials prints serials from a number on, itself included.
func (c *Console) countSerials(body string, count int) error {
	var found []vehicle.Serial
	s, err := vehicle.NewSerial(body)
	ok := err == nil
	if !ok {
		s, ok = vehicle.NextIssuable(body)
	}
	for ok && len(found) < count {
		found = append(found, s)
		s, ok = vehicle.NextIssuable(s.Body())
	}
	for _, s := range found {
		if c.JSON {
			check := string(rune(s.Check()))
			if err := c.printJSON(newSerial{Number: s.Body(), Serial: s, Check: check}); err != nil {
				return err
			}
		} else if _, err := fmt.Fprintln(c.Out, s); err != nil {
			return err
		}
	}
	if len(found) < count {
		return fault.InvalidField("count", strconv.Itoa(count), fmt.Sprintf("at most %d: there are no more numbers of the form of %s", len(found), body))
	}
	return nil
}

// printJSON writes a value on a line of its own.
func (c *Console) printJSON(v any) error { return json.NewEncoder(c.Out).Encode(v) }
