package console

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Measurement is a value that somebody measured, as typed on the command line.
type Measurement struct {
	Words          []string // "0.18", "mm", "output", "shaft": the value, its unit, and where, if that was said
	Characteristic string
	Item           string
	On             vehicle.Date // today, when zero
}

// Judge prints what a measured value means: within its limit or not, against
// last time, and what to do; or what to ask the caller first.
func (c *Console) Judge(ctx context.Context, serial string, m Measurement) error {
	said, err := saidOf(m.Words)
	if err != nil {
		return err
	}
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	j, err := c.Schedules.JudgeMeasurement(ctx, &schedulev1.JudgeMeasurementRequest{
		Parent: "vehicles/" + serialOf(name), Value: vehiclewire.QuantityProto(said.value), Words: said.words,
		Characteristic: m.Characteristic, ItemId: m.Item, MeasuredDate: vehiclewire.DateProto(m.On),
	})
	if err != nil {
		return said.refused(err)
	}
	return c.print(j, func(s *sheet) {
		if j.GetQuestion() != "" {
			candidatesText(s, serialOf(name), j)
		} else {
			judgementText(s, serialOf(name), j)
		}
	})
}

// said is a measured value as people say it, taken apart.
type said struct {
	value vehicle.Quantity
	words string // the others, for what was measured
	// doubtful says that the unit is a word of which we do not know whether it is
	// one: "3 notches" may be, and "0.18 output" is not.
	doubtful bool
}

// saidOf finds the value among the words, in whatever order they come: the
// longest run that is a number with a unit known to us, or else a number with
// the word that stands at it.
func saidOf(words []string) (said, error) {
	words = strings.Fields(strings.Join(words, " "))
	rest := func(from, to int) string { return strings.Join(append(slices.Clone(words[:from]), words[to:]...), " ") }
	bare := -1 // the first number that stands alone
	for from := range words {
		if bare < 0 {
			if _, err := vehicle.ParseDecimal(words[from]); err == nil {
				bare = from
			}
		}
		for to := min(len(words), from+4); to > from; to-- {
			q, err := vehicle.ParseQuantity(strings.Join(words[from:to], " "))
			if _, known := vehicle.UnitName(q.Unit); err == nil && known {
				if from > 0 && strings.EqualFold(words[from-1], "minus") { // a shell takes -0.04mm for a flag
					from--
					q.Value.Coefficient = -q.Value.Coefficient
				}
				return said{value: q, words: rest(from, to)}, nil
			}
		}
	}
	for at, word := range words {
		if q, err := vehicle.ParseQuantity(word); err == nil {
			return said{value: q, words: rest(at, at+1)}, nil
		}
	}
	switch {
	case bare < 0:
		return said{}, fault.InvalidField("value", strings.Join(words, " "), "a number with its unit, and what was measured: 0.18 mm output shaft end float")
	case bare+1 < len(words):
		if q, err := vehicle.ParseQuantity(words[bare] + " " + words[bare+1]); err == nil {
			return said{value: q, words: rest(bare, bare+2), doubtful: true}, nil
		}
	}
	return said{}, unitMissing(words[bare])
}

// unitMissing refuses a number alone: whoever measured must say of what.
func unitMissing(number string) error {
	return fault.InvalidField("value", number, "its unit too, for "+number+" may be millimetres or thousandths of an inch: "+number+" mm, "+number+" thou")
}

// refused says, where a word that we took for the unit is none, that the unit is
// missing.
func (s said) refused(err error) error {
	if reason := reasonOf(err); s.doubtful && reason == "NO_QUANTITY_IN_UNIT" {
		return unitMissing(s.value.Value.String())
	}
	return err
}

// reasonOf is the reason that a service gave for a refusal; empty for none.
func reasonOf(err error) string {
	for _, d := range status.Convert(err).Details() {
		if info, ok := d.(*errdetails.ErrorInfo); ok {
			return info.GetReason()
		}
	}
	return ""
}

// candidatesText asks back.
func candidatesText(s *sheet, serial string, j *schedulev1.MeasurementJudgement) {
	s.text("", "Ask: "+j.GetQuestion())
	rows := [][]string{{"position", "what", "item", "window"}}
	for _, c := range j.GetCandidates() {
		position := c.GetPosition()
		if position == "" {
			position = "(the vehicle)"
		}
		rows = append(rows, []string{position, c.GetCharacteristic(), c.GetItemId(), windowText(c.GetLimit())})
	}
	s.table("  ", rows)
	s.text("  ", "Then: halfshaft judge "+serial+" '"+quantity(j.GetValue())+"' and the words that tell it apart, or --item.")
}

// judgementText reads out what a value means.
func judgementText(s *sheet, serial string, j *schedulev1.MeasurementJudgement) {
	q := j.GetQuantity()
	item := ""
	if q.GetItemId() != "" {
		item = " (" + q.GetItemId() + ")"
	}
	s.line("%s: %s, %s%s", serial, quantity(j.GetValue()), quantityName(q.GetPosition(), q.GetCharacteristic()), item)
	for i, r := range j.GetReasons() {
		label := "           "
		if i < len(judgementLabels) {
			label = judgementLabels[i]
		}
		s.text("  "+label, r.GetSentence())
	}
	if method := q.GetLimit().GetMethod(); method != "" {
		s.text("  method   ", "Ask whether it was measured so: "+method+".")
	}
	if j.GetCaution() != "" {
		s.text("  CAUTION  ", j.GetCaution())
	}
	if j.GetSample() {
		s.line("  values   sample, to be signed by the works' engineer")
	}
}

// judgementLabels stand before the reasons, in the order of the API.
var judgementLabels = []string{"verdict  ", "compared ", "trend    ", "limit    ", "DO       "}
