package console

import (
	"context"
	"fmt"
	"strings"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Answer is what somebody told the works about work, as typed.
type Answer struct {
	Kind     string // booked, snoozed, done
	Day      vehicle.Date
	Items    []string // "E01": the rounds these are in now; none: all that come up
	Person   string   // who said so; empty: the works
	Workshop string
	Note     string
}

// RecordAnswer records that work is booked, put off, or said to be done.
func (c *Console) RecordAnswer(ctx context.Context, serial string, a Answer) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	parent := "vehicles/" + serialOf(name)
	kind, ok := enumOf(reminderv1.AnswerKind_value, "ANSWER_KIND_", a.Kind)
	if !ok {
		return fault.InvalidField("kind", a.Kind, kinds(reminderv1.AnswerKind_name, "ANSWER_KIND_"))
	}
	cycles, err := c.roundsOf(ctx, parent, a.Items)
	if err != nil {
		return err
	}
	answer := &reminderv1.Answer{Kind: reminderv1.AnswerKind(kind), Cycles: cycles, AnswerDate: vehiclewire.DateProto(a.Day), Workshop: a.Workshop, Note: a.Note}
	if a.Person != "" {
		answer.Person = personName(a.Person)
	}
	made, err := c.Reminders.CreateAnswer(ctx, &reminderv1.CreateAnswerRequest{Parent: parent, Answer: answer, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) { answerLine(s, made) })
}

// roundsOf gives the rounds that items are in now.
func (c *Console) roundsOf(ctx context.Context, parent string, items []string) ([]string, error) {
	lines, err := page.All(func(token string) ([]*reminderv1.PendingLine, string, error) {
		r, err := c.Reminders.ListPending(ctx, &reminderv1.ListPendingRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetLines(), r.GetNextPageToken(), err
	})
	if err != nil {
		return nil, err
	}
	var cycles, known []string
	seen, wanted := map[string]bool{}, map[string]bool{}
	for _, item := range items {
		wanted[item] = true
	}
	for _, l := range lines {
		if seen[l.GetCycle()] {
			continue
		}
		seen[l.GetCycle()] = true
		known = append(known, l.GetItemId())
		if len(items) == 0 || wanted[l.GetItemId()] {
			cycles = append(cycles, l.GetCycle())
			delete(wanted, l.GetItemId())
		}
	}
	for item := range wanted {
		return nil, fault.InvalidField("items", item, "an item that comes up: "+strings.Join(known, ", "))
	}
	return cycles, nil
}

func answerLine(s *sheet, a *reminderv1.Answer) {
	said := map[reminderv1.AnswerKind]string{
		reminderv1.AnswerKind_ANSWER_KIND_BOOKED:  "booked for ",
		reminderv1.AnswerKind_ANSWER_KIND_SNOOZED: "not before ",
		reminderv1.AnswerKind_ANSWER_KIND_DONE:    "said to be done on ",
	}[a.GetKind()] + day(a.GetAnswerDate())
	if a.GetWorkshop() != "" {
		said += " by " + a.GetWorkshop()
	}
	if a.GetPerson() != "" {
		said += ", says " + idOf(a.GetPerson())
	}
	if a.GetNote() != "" {
		said += fmt.Sprintf(" (%q)", a.GetNote())
	}
	if a.GetWithdrawTime() != nil {
		said += "; taken back" + onTime(a.GetWithdrawTime())
	}
	s.text("", fmt.Sprintf("%s  %s: %s (%s)", serialOf(a.GetName()), strings.Join(itemsOf(a.GetCycles()), ", "), said, a.GetName()))
}

// itemsOf gives the items that rounds are of: "E01" of "E01.2026-05-01".
func itemsOf(cycles []string) []string {
	items := make([]string, len(cycles))
	for i, cycle := range cycles {
		items[i], _, _ = strings.Cut(cycle, ".")
	}
	return items
}

// Answers prints what was said about a vehicle's work.
func (c *Console) Answers(ctx context.Context, serial string) error {
	parent, err := c.ofVehicle(ctx, serial)
	if err != nil {
		return err
	}
	answers, err := page.All(func(token string) ([]*reminderv1.Answer, string, error) {
		r, err := c.Reminders.ListAnswers(ctx, &reminderv1.ListAnswersRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetAnswers(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, answers, func(s *sheet) {
		for _, a := range answers {
			answerLine(s, a)
		}
		if len(answers) == 0 {
			s.line("Nothing was said about its work.")
		}
	})
}

// WithdrawAnswer takes an answer back.
func (c *Console) WithdrawAnswer(ctx context.Context, name string) error {
	a, err := c.Reminders.WithdrawAnswer(ctx, &reminderv1.WithdrawAnswerRequest{Name: name, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(a, func(s *sheet) { answerLine(s, a) })
}
