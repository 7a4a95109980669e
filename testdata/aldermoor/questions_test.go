package aldermoor_test

import (
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/status"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle/vehiclewire"
)

// The questions that callers ask, with the answers that a person worked out from
// the rows of the catalogue and wrote down beside them. How an expected answer is
// written is told in questions/README.md.

type question struct {
	number, serial, on, words, expected string
}

func TestWhatCallersAskIsAnsweredRight(t *testing.T) {
	ctx, c := demo(t)
	kinds := make(map[string]int)
	asked := questions(t)
	for _, q := range asked {
		want, err := parseExpected(q.expected)
		if err != nil {
			t.Errorf("question %s: %v", q.number, err)
			continue
		}
		kinds[want.kind]++
		got := ask(t, ctx, c.Parts, q)
		if wrong := want.compare(got); wrong != "" {
			t.Errorf("question %s, %s %s %q\n  %s\n  want %s\n  got  %s\n  %s",
				q.number, q.serial, q.on, q.words, wrong, q.expected, got.line(), strings.Join(got.sentences, "\n  "))
		}
	}
	refused := kinds["refused"] + kinds["asked back"] + kinds["in error"]
	if len(asked) < 300 || refused < 60 {
		t.Errorf("%d questions, %d of them refused or asked back; want 300 and 60", len(asked), refused)
	}
	t.Logf("%d questions: %v", len(asked), kinds)
}

func questions(t *testing.T) []question {
	t.Helper()
	f, err := os.Open("questions/questions.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if header := []string{"number", "serial", "on", "question", "expected", "why"}; !slices.Equal(rows[0], header) {
		t.Fatalf("the columns are %v, want %v", rows[0], header)
	}
	var all []question
	seen := make(map[string]string)
	for i, r := range rows[1:] {
		if r[0] != fmt.Sprint(i+1) || r[5] == "" {
			t.Errorf("row %d: number %s, want %d; why: %q", i+2, r[0], i+1, r[5])
		}
		key := strings.Join(r[1:4], "|")
		if before := seen[key]; before != "" {
			t.Errorf("question %s was asked before, as %s", r[0], before)
		}
		seen[key] = r[0]
		all = append(all, question{number: r[0], serial: r[1], on: r[2], words: r[3], expected: r[4]})
	}
	return all
}

// heard is an answer in the words in which an expected one is written.
type heard struct {
	rule, code, askBack string
	items               []string // what is offered: parts, fluids or settings
	// What goes with it.
	renew, also, holds, fitted, cautions, sentences []string
}

func (h *heard) line() string {
	var head string
	switch {
	case h.code != "":
		head = "error " + h.code
	case h.rule != "":
		head = "refuse " + h.rule
	case h.askBack != "":
		head = "ask: " + h.askBack
	}
	parts := h.items
	if head != "" {
		parts = append([]string{head}, parts...)
	}
	line := strings.Join(parts, " | ")
	for _, clause := range []struct {
		word string
		said []string
	}{{"renew", h.renew}, {"also", h.also}, {"holds", h.holds}, {"fitted", h.fitted}} {
		for _, s := range clause.said {
			line += "; " + clause.word + " " + s
		}
	}
	return line
}

// ask puts a question to the server.
func ask(t *testing.T, ctx context.Context, parts partsv1.PartsServiceClient, q question) *heard {
	t.Helper()
	req := &partsv1.AnswerPartRequest{Build: "builds/" + q.serial, Question: q.words}
	if q.on != "" {
		req.OnDate = vehiclewire.DateProto(day(t, q.on))
	}
	a, err := parts.AnswerPart(ctx, req)
	h := &heard{}
	if err != nil {
		h.code, h.sentences = status.Code(err).String(), []string{status.Convert(err).Message()}
		return h
	}
	h.rule, h.askBack = a.GetRefusal().GetRule(), a.GetAskBack()
	if r := a.GetRefusal(); r != nil {
		h.sentences = append(append(h.sentences, r.GetSentence()), r.GetBelongsTo()...)
	}
	for _, c := range a.GetChoices() {
		h.hearChoice(c)
	}
	for _, f := range a.GetFluids() {
		c := f.GetCapacity()
		h.items = append(h.items, fmt.Sprintf("fluid %s %s %s %s", c.GetPosition(), c.GetQuantity().GetValue(), c.GetQuantity().GetUnit(), c.GetFluid()))
		h.cautions = append(h.cautions, c.GetCaution())
		for _, r := range f.GetReasons() {
			h.sentences = append(h.sentences, r.GetSentence())
		}
	}
	for _, s := range a.GetSettings() {
		h.items = append(h.items, settingItem(s.GetSetting()))
		h.cautions = append(h.cautions, s.GetSetting().GetCaution())
	}
	return h
}

func (h *heard) hearChoice(c *partsv1.PartChoice) {
	h.items = append(h.items, fmt.Sprintf("%s x%d at %s", partNumber(c.GetOrder().GetName()), c.GetQuantity(), c.GetPosition()))
	h.renew = append(h.renew, kitLines(c.GetRenewWith())...)
	h.also = append(h.also, kitLines(c.GetAlsoOrder())...)
	h.holds = append(h.holds, kitLines(c.GetContents())...)
	h.cautions = append(h.cautions, c.GetCaution())
	if c.GetFittedPart() != "" {
		by := strings.ToLower(strings.TrimPrefix(c.GetFittedOrigin().String(), "FITTED_ORIGIN_"))
		h.fitted = append(h.fitted, partNumber(c.GetFittedPart())+" by "+by)
	}
	for _, r := range c.GetReasons() {
		h.sentences = append(h.sentences, r.GetSentence())
	}
}

func partNumber(name string) string { return strings.TrimPrefix(name, "parts/") }

func kitLines(lines []*partsv1.KitLine) []string {
	var said []string
	for _, l := range lines {
		said = append(said, fmt.Sprintf("%s x%d", partNumber(l.GetPart()), max(l.GetQuantity(), 1)))
	}
	return said
}

func settingItem(s *partsv1.Setting) string {
	item := "setting " + s.GetPosition() + " " + s.GetCharacteristic()
	if s.GetSubject() != "" {
		item += " " + s.GetSubject()
	}
	item += " " + s.GetLower() + "-" + s.GetUpper() + " " + s.GetUnit()
	if s.GetTarget() != "" {
		item += " aim " + s.GetTarget()
	}
	return item
}
