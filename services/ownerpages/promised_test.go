package ownerpages_test

import (
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html/atom"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle/vehiclewire"
)

// answered is an answer about rounds.
func answered(kind reminderv1.AnswerKind, person, day, workshop string, rounds ...string) *reminderv1.Answer {
	return &reminderv1.Answer{
		Name: theVehicle + "/answers/9", Person: person, Kind: kind, Cycles: rounds, Workshop: workshop, AnswerDate: vehiclewire.DateProto(date(day)),
	}
}

const (
	booked  = reminderv1.AnswerKind_ANSWER_KIND_BOOKED
	snoozed = reminderv1.AnswerKind_ANSWER_KIND_SNOOZED
)

func TestTheScheduleSaysWhatIsBookedAndPutOff(t *testing.T) {
	for _, c := range []struct {
		name   string
		answer *reminderv1.Answer
		says   string   // "" when it says nothing of it
		offers []string // of the three answers
	}{
		{"booked", answered(booked, thePerson, "2026-06-08", "Harbour Garage", bothRounds...),
			"It is booked for 8 June 2026 with Harbour Garage. Change engine oil and filter Change brake fluid Take this back", []string{"It is done"}},
		{"booked, nobody says where", answered(booked, thePerson, "2026-06-08", "", bothRounds...), "It is booked for 8 June 2026. Change engine", []string{"It is done"}},
		{"one of two booked", answered(booked, thePerson, "2026-06-08", "", bothRounds[0]),
			"It is booked for 8 June 2026. Change engine oil and filter Take this back", []string{"It is booked", "It is done", "Remind me later"}},
		{"put off", answered(snoozed, thePerson, "2026-06-01", "", bothRounds...),
			"It is put off: until 1 June 2026 we do not remind you of it. Change engine oil and filter Change brake fluid Take this back", []string{"It is booked", "It is done"}},
		{"recorded by the works", answered(booked, "", "2026-06-08", "Harbour Garage", bothRounds...), "It is booked for 8 June 2026 with Harbour Garage.", []string{"It is done"}},
		{"by somebody else", answered(booked, "people/p0040", "2026-06-08", "Hill Garage", bothRounds...), "", []string{"It is booked", "It is done", "Remind me later"}},
		{"for work that is done since", answered(booked, thePerson, "2026-06-08", "", "E01.2024-06-10"), "", []string{"It is booked", "It is done", "Remind me later"}},
		{"a week ago, and silent no more", answered(booked, thePerson, "2026-05-11", "", bothRounds...), "", []string{"It is booked", "It is done", "Remind me later"}},
		{"six days ago, and the paper may come", answered(booked, thePerson, "2026-05-12", "", bothRounds...), "It is booked for 12 May 2026.", []string{"It is done"}},
		{"put off until today", answered(snoozed, thePerson, "2026-05-18", "", bothRounds...), "", []string{"It is booked", "It is done", "Remind me later"}},
	} {
		d, server := newDesk(t)
		d.answers = []*reminderv1.Answer{c.answer}
		a := get(t, link(t, server, links.Schedule))
		if said := strings.Contains(a.say(), "It is booked for") || strings.Contains(a.say(), "It is put off"); said != (c.says != "") || !strings.Contains(a.say(), c.says) {
			t.Errorf("%s: %s", c.name, a.say())
		}
		var offers []string
		for _, press := range a.page.all(atom.A) {
			if label := textOf(press); slices.Contains([]string{"It is booked", "It is done", "Remind me later"}, label) {
				offers = append(offers, label)
			}
		}
		if !slices.Equal(offers, c.offers) {
			t.Errorf("%s: it offers %q, want %q", c.name, offers, c.offers)
		}
		if back := strings.Contains(a.say(), "Take this back"); back != (c.says != "" && c.answer.GetPerson() == thePerson) {
			t.Errorf("%s: to be taken back: %t", c.name, back)
		}
	}
}

func TestWhatIsBookedIsTakenBackFromTheSchedule(t *testing.T) {
	for _, kind := range []reminderv1.AnswerKind{booked, snoozed} {
		d, server := newDesk(t)
		d.answers = []*reminderv1.Answer{answered(kind, thePerson, "2026-06-08", "", bothRounds...)}
		a := get(t, link(t, server, links.Schedule))
		action := ""
		for _, f := range a.page.all(atom.Form) {
			action = attribute(f, "action")
		}
		undone := post(t, server.URL+action, a.page.form(t, "Take this back"))
		if !strings.Contains(undone.say(), "We remind you as before.") || d.answers[0].GetWithdrawTime() == nil {
			t.Errorf("%s: got %d, %s", kind, undone.StatusCode, undone.say())
		}
		if a := get(t, link(t, server, links.Schedule)); strings.Contains(a.say(), "8 June 2026") {
			t.Errorf("%s: taken back, it is still shown: %s", kind, a.say())
		}
	}
}
