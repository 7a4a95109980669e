package reminderjob

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/emersion/go-message/mail"

	"halfshaft/services/reminder"
)

func TestNoBatchTellsOneOwnerOfAnother(t *testing.T) { batches(t, 30) }

// batches sends batches of notices to owners of random vehicles, many at once
// as passes do, and looks into every message for what is anybody else's: name,
// addresses, serials, parts.
func batches(t *testing.T, many int) {
	o := newOffice(t)
	fence := o.elect(t)
	random := rand.New(rand.NewPCG(1, 2))
	messages := 0
	for batch := range many {
		o.town.mu.Lock()
		o.town.clear()
		o.town.mu.Unlock()
		o.post.taken = nil
		marks := map[string][]string{} // by person: what is theirs
		vehicles := 2 + random.IntN(5)
		for n := range vehicles {
			s := serial(batch*8 + n + 1)
			o.town.vehicle(s, item("E01", today.AddDays(random.IntN(25)-5)), item("B02", today.AddDays(random.IntN(40))))
			for range 1 + random.IntN(2) {
				id := fmt.Sprintf("q%dx%d", batch, random.IntN(vehicles))
				if o.town.people["people/"+id] == nil {
					p := o.town.owner(s, id)
					p.FullName, p.Phone = "Owner "+strings.ToUpper(id)+"Z", fmt.Sprintf("+4416329%05d", random.IntN(100_000))
					p.PostalLines = []string{fmt.Sprintf("%d Row of %s", 1000+random.IntN(9000), strings.ToUpper(id)+"Z"), "Fictionbury"}
					p.Language = []string{"en-GB", "en-US", "de-DE", "de-CH", ""}[random.IntN(5)]
					if random.IntN(3) == 0 {
						p.Email = "" // a letter
					}
					marks[id] = append(marks[id], p.FullName, p.PostalLines[0])
					if p.Email != "" {
						marks[id] = append(marks[id], p.Email)
					}
				} else {
					o.town.owner(s, id)
				}
				marks[id] = append(marks[id], string(s))
			}
		}
		r, err := o.pass(t.Context(), fence)
		if err != nil {
			t.Fatalf("batch %d: %v", batch, err)
		}
		for _, n := range r.Notices {
			body, err := o.Body(t.Context(), n)
			if err != nil {
				t.Fatalf("%s: %v", n.ID, err)
			}
			text := readable(t, n, body)
			messages++
			if !strings.Contains(text, string(n.Serial)) {
				t.Errorf("%s does not name its vehicle", n.ID)
			}
			for other, theirs := range marks {
				for _, mark := range theirs {
					if other != n.Person && !slices.Contains(marks[n.Person], mark) && strings.Contains(text, mark) {
						t.Errorf("%s to %s tells %q of %s", n.ID, n.Person, mark, other)
					}
				}
			}
		}
		for to, all := range o.post.taken {
			for _, message := range all {
				if !bytes.Contains(message, []byte("<"+to+">")) {
					t.Errorf("batch %d: what is addressed to somebody else went to %s", batch, to)
				}
			}
		}
	}
	if messages < many {
		t.Errorf("only %d messages in %d batches", messages, many)
	}
	t.Logf("%d messages in %d batches", messages, many)
}

// readable is the whole of a message as words: a mail's parts decoded, a letter
// as it is kept.
func readable(t *testing.T, n reminder.Notice, body []byte) string {
	t.Helper()
	if n.Channel != reminder.Mail {
		return string(body)
	}
	m, err := mail.CreateReader(bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for fields := m.Header.Fields(); fields.Next(); {
		text, err := fields.Text()
		if err != nil {
			t.Fatal(err)
		}
		all.WriteString(text + "\n")
	}
	for {
		part, err := m.NextPart()
		if err == io.EOF {
			return all.String()
		}
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(&all, part.Body); err != nil {
			t.Fatal(err)
		}
	}
}
