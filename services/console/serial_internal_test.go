package console

import (
	"bytes"
	"strings"
	"testing"
)

// The check characters are those that ISO/IEC 7064 MOD 37-2 gives, worked out
// apart from this code as the sum of the characters' values times the powers of
// two.
func TestNewSerialsAreToldOrWhyTheirNumberCannotBeUsed(t *testing.T) {
	for _, c := range []struct {
		name    string
		numbers []string
		count   int
		json    bool
		want    string // of what is printed, or of the refusal
	}{
		{"a number that can be used", []string{"am 0147"}, 0, false, "AM0147: the check character is P, the serial AM0147P (Alfa Mike zero one four seven Papa)."},
		{"as JSON", []string{"AM0147"}, 0, true, `{"number":"AM0147","serial":"AM0147P","check":"P"}`},
		{"something else", []string{"0147"}, 0, false, "3 to 12 characters"},
		{"a count from two numbers", []string{"AM0147", "AM0148"}, 2, false, "one number to count from"},
		{"a count of too many", []string{"AM0147"}, 10_001, false, "1 to 10000"},
		{"a count beyond the last number", []string{"AM9999"}, 5, false, "at most 1"},
		{"several numbers", []string{"AM0147", "AM0148"}, 0, false, "the serial AM0148N"},
		{"a number whose check character is never issued", []string{"AM0288"}, 0, false,
			"AM0288 cannot be used: its check character would be *, and *, I and O are never issued. The next that can is AM0289, the serial AM0289Y."},
		{"the same as JSON", []string{"AM0288"}, 0, true, `{"number":"AM0288","check":"*","next":"AM0289Y"}`},
		{"a list that passes over such a number", []string{"AM0287"}, 3, false, "AM02871\nAM0289Y\nAM0290B\n"},
		{"a list from such a number", []string{"AM0288"}, 1, false, "AM0289Y\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out bytes.Buffer
			k := &Console{Out: &out, JSON: c.json}
			if err := k.Serials(c.numbers, c.count); err != nil {
				out.WriteString(err.Error())
			}
			if text := out.String(); !strings.Contains(text, c.want) {
				t.Errorf("got %s\nwant %s", text, c.want)
			}
		})
	}
}
