package locale

import (
	"strconv"
	"strings"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// numbers is how numbers are written in a region. Most write digits in groups of
// three; of those that do not, each number is given to golang.org/x/text, which
// takes many times as long.
type numbers struct {
	tag     language.Tag
	digits  [10]string
	plain   bool   // Western digits, in groups of three
	minus   string // before a negative number
	group   string // between the groups
	mark    string // the decimal mark
	grouped int    // how many digits a number has at least that is written in groups
}

// numbersOf looks at how some numbers are written.
func numbersOf(tag language.Tag) *numbers {
	n := &numbers{tag: tag}
	for d := range n.digits {
		n.digits[d] = n.printed(d)
	}
	n.mark = strings.TrimSuffix(strings.TrimPrefix(n.printed(0.5), n.digits[0]), n.digits[5])
	n.minus = strings.TrimSuffix(n.printed(-7), n.digits[7])
	n.plain = n.digits[7] == "7"
	front, found := strings.CutSuffix(n.printed(12_345), "345")
	n.group, n.plain = strings.TrimPrefix(front, "12"), n.plain && found
	n.grouped = 5
	if n.printed(1_234) == "1"+n.group+"234" {
		n.grouped = 4
	}
	for _, example := range []int64{0, 10, 234, 1_234, 12_345, 678_901, 1_234_567, -9_012_345_678} {
		n.plain = n.plain && n.whole(example) == n.printed(example)
	}
	return n
}

// printed is a number as golang.org/x/text writes it.
func (n *numbers) printed(x any) string { return message.NewPrinter(n.tag).Sprint(number.Decimal(x)) }

// write writes a whole number.
func (n *numbers) write(x int64) string {
	if !n.plain {
		return n.printed(x)
	}
	return n.whole(x)
}

// fraction writes the digits behind the decimal mark.
func (n *numbers) fraction(digits string) string {
	var b strings.Builder
	b.WriteString(n.mark)
	for _, d := range digits {
		b.WriteString(n.digits[d-'0'])
	}
	return b.String()
}

// whole writes a whole number in groups of three.
func (n *numbers) whole(x int64) string {
	sign, digits := "", strconv.FormatInt(x, 10)
	if x < 0 {
		sign, digits = n.minus, digits[1:]
	}
	if len(digits) < n.grouped {
		return sign + digits
	}
	var b strings.Builder
	b.WriteString(sign)
	for i := range len(digits) {
		if i > 0 && (len(digits)-i)%3 == 0 {
			b.WriteString(n.group)
		}
		b.WriteByte(digits[i])
	}
	return b.String()
}
