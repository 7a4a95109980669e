package exchange

import (
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"halfshaft/services/vehicle"
)

// CellType is what a spreadsheet says of a cell. In CSV everything is text.
type CellType uint8

// The types of cell.
const (
	TextCell CellType = iota
	NumberCell
	DateCell // Text is 2020-04-03, with T14:30:00 after it when the cell has a time
	FlagCell // Text is TRUE or FALSE
	ErrorCell
)

// Cell is one cell as the file has it.
type Cell struct {
	Text string
	Type CellType
}

// complaint is what is wrong with one cell.
type complaint struct{ want string }

func wanted(want string) *complaint { return &complaint{want} }

// readText checks a text for characters that do not belong into one.
func readText(s string) (string, *complaint) {
	if !utf8.ValidString(s) {
		return "", wanted("text in UTF-8: save the file as CSV UTF-8")
	}
	s = strings.ReplaceAll(s, "\r\n", "\n")
	s = strings.ReplaceAll(s, "\r", "\n")
	if i := strings.IndexFunc(s, unfit); i >= 0 {
		return "", wanted("text without control characters, at character " + strconv.Itoa(utf8.RuneCountInString(s[:i])+1))
	}
	return s, nil
}

// months gives the number of a month by the first three letters of its name.
var months = map[string]int{
	"jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6,
	"jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12,
}

var (
	yearFirst  = regexp.MustCompile(`^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})$`)
	dayMonth   = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)?[ -]([A-Za-z]{3,9})\.?,?[ -](\d{4})$`)
	monthDay   = regexp.MustCompile(`^([A-Za-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})$`)
	timeOfDay  = regexp.MustCompile(`T\d{2}:\d{2}:\d{2}$`)
	threeParts = regexp.MustCompile(`^(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})$`)
)

// readDate reads a day that can only be meant in one way: the year first, or
// the month in letters. Figures in another order are refused even where one of
// them is above twelve, for the rows around it would then be a guess.
func readDate(text string) (vehicle.Date, *complaint) {
	text = timeOfDay.ReplaceAllString(text, "") // of a date cell
	if m := yearFirst.FindStringSubmatch(text); m != nil {
		return dateOf(m[1], m[2], m[3])
	}
	if m := dayMonth.FindStringSubmatch(text); m != nil {
		return dateOf(m[3], monthNumber(m[2]), m[1])
	}
	if m := monthDay.FindStringSubmatch(text); m != nil {
		return dateOf(m[3], monthNumber(m[1]), m[2])
	}
	if m := threeParts.FindStringSubmatch(text); m != nil {
		return vehicle.Date{}, ambiguous(m)
	}
	return vehicle.Date{}, wanted("a day, the year first: 2020-04-03")
}

func monthNumber(name string) string {
	name = strings.ToLower(name)
	n := months[name[:3]]
	if n == 0 || !strings.HasPrefix(strings.ToLower(time.Month(n).String()), name) {
		return "0"
	}
	return strconv.Itoa(n)
}

func dateOf(year, month, day string) (vehicle.Date, *complaint) {
	y, _ := strconv.Atoi(year)
	m, _ := strconv.Atoi(month)
	d, _ := strconv.Atoi(day)
	date, err := vehicle.NewDate(y, time.Month(m), d)
	if err != nil {
		return vehicle.Date{}, wanted("a day of the calendar: 2020-04-03")
	}
	return date, nil
}

// ambiguous names the days that figures without an order may mean.
func ambiguous(m []string) *complaint {
	dayFirst, wrong1 := dateOf(m[3], m[2], m[1])
	monthFirst, wrong2 := dateOf(m[3], m[1], m[2])
	switch {
	case wrong1 != nil && wrong2 != nil:
		return wanted("a day of the calendar: 2020-04-03")
	case wrong1 != nil:
		return wanted(monthFirst.String() + ": the year first")
	case wrong2 != nil || dayFirst == monthFirst:
		return wanted(dayFirst.String() + ": the year first")
	}
	return wanted(dayFirst.String() + " or " + monthFirst.String() + ": the year first")
}

func readStamp(text string) (time.Time, *complaint) {
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil || t.Year() < 1 || t.Year() > 9999 {
		return time.Time{}, wanted("a moment: 2026-11-25T08:00:00Z")
	}
	return t.UTC(), nil
}

// readWhole reads a whole number of so many bits.
func readWhole(text string, bits int, signed bool) (int64, *complaint) {
	n, err := strconv.ParseInt(text, 10, bits)
	switch {
	case err != nil && signed:
		return 0, wanted("a whole number")
	case err != nil || n < 0 && !signed:
		return 0, wanted("a whole number, 0 or more")
	}
	return n, nil
}

func readNumber(text string) (vehicle.Decimal, *complaint) {
	d, err := vehicle.ParseDecimal(text)
	if err != nil {
		return d, wanted("a number with a point, no comma: 4.70")
	}
	return d, nil
}

// readMeasure reads a number with its unit; unit is that of a column of its
// own, or of the header, and must not contradict the cell.
func readMeasure(text, unit string) (vehicle.Quantity, *complaint) {
	if _, err := vehicle.ParseDecimal(text); err == nil && unit != "" {
		text += " " + unit
		unit = ""
	}
	q, err := vehicle.ParseQuantity(text)
	switch {
	case err != nil:
		return q, wanted("a number with a point and its unit: 0.10 mm")
	case unit != "" && unit != q.Unit:
		return q, wanted("the unit " + unit + ", as the column for the unit says")
	}
	return q, nil
}

// distance is what a distance cell says: as entered, or in bare millimetres as
// an export writes a distance that was computed.
type distance struct {
	entered vehicle.Entered
	mm      int64
}

var bareMillimetres = regexp.MustCompile(`^\d{1,18} mm$`)

func readDistance(text, unit string) (distance, *complaint) {
	if bareMillimetres.MatchString(text) {
		mm, err := strconv.ParseInt(strings.TrimSuffix(text, " mm"), 10, 64)
		if err != nil {
			return distance{}, wanted("a distance that a vehicle can cover")
		}
		return distance{mm: mm}, nil
	}
	q, bad := readMeasure(text, unit)
	if bad != nil {
		return distance{}, wanted("a number and mi or km, without a thousands mark: 12345 mi")
	}
	u, err := vehicle.ParseUnit(q.Unit)
	if err != nil || q.Value.Sign() < 0 {
		return distance{}, wanted("a number, 0 or more, and mi or km: 12345 mi")
	}
	entered := vehicle.Entered{Value: q.Value, Unit: u}
	mm, err := entered.Distance()
	if err != nil {
		return distance{}, wanted("a distance that a vehicle can cover")
	}
	return distance{entered: entered, mm: int64(mm)}, nil
}

func readFlag(text string) (bool, *complaint) {
	switch strings.ToLower(text) {
	case "yes", "y", "true", "1", "x":
		return true, nil
	case "no", "n", "false", "0":
		return false, nil
	}
	return false, wanted("yes or no")
}

var identifier = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,62}$`)

func readIdentifier(text string) *complaint {
	if !identifier.MatchString(text) {
		return wanted("up to 63 letters, digits, points, hyphens and underscores")
	}
	return nil
}

var kitLine = regexp.MustCompile(`^(\S+)(?:\s+[xX×]?\s*(\d{1,9}))?$`)

// kitPart is a part and how many of it, as a cell names them.
type kitPart struct {
	part     string
	quantity int32
}

func readKit(text string) ([]kitPart, *complaint) {
	var out []kitPart
	for _, line := range splitWords(text) {
		m := kitLine.FindStringSubmatch(line)
		if m == nil {
			return nil, wanted("part numbers with how many, separated by semicolons: AP-2050 x2; AP-2051")
		}
		n := 1
		if m[2] != "" {
			n, _ = strconv.Atoi(m[2]) // nine digits at most
		}
		out = append(out, kitPart{strings.TrimPrefix(m[1], "parts/"), int32(n)})
	}
	return out, nil
}
