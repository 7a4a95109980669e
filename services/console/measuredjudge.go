package console

import (
	"context"
	"strings"

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
	value, position, err := valueAndPosition(m.Words)
	if err != nil {
		return err
	}
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	j, err := c.Schedules.JudgeMeasurement(ctx, &schedulev1.JudgeMeasurementRequest{
		Parent: "vehicles/" + serialOf(name), Value: vehiclewire.QuantityProto(value), Position: position,
		Characteristic: m.Characteristic, ItemId: m.Item, MeasuredDate: vehiclewire.DateProto(m.On),
	})
	if err != nil {
		return err
	}
	return c.print(j, func(s *sheet) {
		if j.GetQuestion() != "" {
			candidatesText(s, serialOf(name), j)
		} else {
			judgementText(s, serialOf(name), j)
		}
	})
}

// valueAndPosition takes "0.18 mm output shaft" apart: the longest words that
// are a number with a unit known to us, or else the number with the word after
// it, and the rest.
func valueAndPosition(words []string) (vehicle.Quantity, string, error) {
	words = strings.Fields(strings.Join(words, " "))
	for n := min(len(words), 4); n > 0; n-- {
		q, err := vehicle.ParseQuantity(strings.Join(words[:n], " "))
		if err != nil {
			continue
		}
		if _, known := vehicle.UnitName(q.Unit); known || !strings.Contains(q.Unit, " ") && n <= 2 {
			return q, strings.Join(words[n:], " "), nil
		}
	}
	return vehicle.Quantity{}, "", fault.InvalidField("value", strings.Join(words, " "), "a number with its unit, then where it was measured: 0.18 mm output-shaft-bearing")
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
	s.text("  ", "Then: halfshaft judge "+serial+" '"+quantity(j.GetValue())+"' POSITION, with --characteristic or --item where a position has several.")
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
