package sitetest

import (
	"bytes"
	"errors"
	"fmt"
	"html"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/emersion/go-message/mail"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
)

// message is something that was sent: the HTML of a mail, and its words or those
// of a text message.
type message struct{ html, text string }

// mailViews are the ways in which a mail is looked at.
var mailViews = []struct {
	name   string
	width  int64
	scheme string
}{{"320-light", 320, "light"}, {"320-dark", 320, "dark"}, {"600-light", 600, "light"}}

// askForMails has the messages sent that somebody must ask for, to the owners who
// read each language, and replaces their addresses. It comes last: links end by it.
func (s *site) askForMails() error {
	for _, tag := range languages {
		serial, _, _ := strings.Cut(lastOf(s.found["notice-"+tag]), ".")
		vehicle, person := "vehicles/"+serial, s.found["person-"+tag]
		if _, err := s.Reminders.SendHandbook(s.ctx, &reminderv1.SendHandbookRequest{Parent: vehicle, Person: person}); err != nil {
			return fmt.Errorf("the handbook: %w", err)
		}
		for _, matter := range []reminderv1.ConfirmationMatter{
			reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_TRANSFER, reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_CONTACT,
		} {
			if _, err := s.Reminders.SendConfirmation(s.ctx, &reminderv1.SendConfirmationRequest{Parent: vehicle, Person: person, Matter: matter}); err != nil {
				return fmt.Errorf("a link that confirms: %w", err)
			}
		}
		p, err := s.Owners.GetPerson(s.ctx, &ownerv1.GetPersonRequest{Name: person})
		if err != nil {
			return err
		}
		p.Email, p.CreateTime, p.Undeliverable, p.Consents = "another."+tag+"@harbour.example", nil, nil, nil
		if _, err := s.Owners.UpdatePerson(s.ctx, &ownerv1.UpdatePersonRequest{Person: p}); err != nil {
			return fmt.Errorf("another address: %w", err)
		}
		if _, err := s.Reminders.SendHandbook(s.ctx, &reminderv1.SendHandbookRequest{Parent: vehicle, Person: person, Channel: reminderv1.Channel_CHANNEL_LETTER}); err != nil {
			return fmt.Errorf("the handbook by letter: %w", err)
		}
	}
	_, err := s.Reminders.RunPass(s.ctx, &reminderv1.RunPassRequest{})
	return err
}

// messages gives one of each kind that went out, by its name:
// "mail.service-due.de".
func (s *site) messages() (map[string]message, error) {
	all, token := map[string]message{}, ""
	for {
		r, err := s.Reminders.ListNotices(s.ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		if err != nil {
			return nil, err
		}
		for _, n := range r.GetNotices() {
			name := kindOf(n)
			confirms := n.GetPurpose() == ownerv1.Purpose_PURPOSE_CONFIRM // of either kind
			if _, there := all[name]; there && !confirms || n.GetChannel() == reminderv1.Channel_CHANNEL_LETTER {
				continue
			}
			sent, err := s.Reminders.GetNotice(s.ctx, &reminderv1.GetNoticeRequest{Name: n.GetName()})
			if err != nil {
				return nil, err
			}
			m := message{text: string(sent.GetMessage())}
			if n.GetChannel() == reminderv1.Channel_CHANNEL_MAIL {
				if m, err = parts(sent.GetMessage()); err != nil {
					return nil, fmt.Errorf("%s: %w", n.GetName(), err)
				}
			}
			if confirms && aTransfer.MatchString(m.text) {
				name = strings.Replace(name, "confirm", "confirm-transfer", 1)
			}
			all[name] = m
		}
		if token = r.GetNextPageToken(); token == "" {
			return all, nil
		}
	}
}

// aTransfer is what only the link says that gives a vehicle away.
var aTransfer = regexp.MustCompile(`new owner|neuen Eigentümer`)

// kindOf names the kind of a notice.
func kindOf(n *reminderv1.Notice) string {
	word := func(text, prefix string) string {
		return strings.ReplaceAll(strings.ToLower(strings.TrimPrefix(text, prefix)), "_", "-")
	}
	purpose := word(n.GetPurpose().String(), "PURPOSE_")
	name := word(n.GetChannel().String(), "CHANNEL_") + "." + purpose
	if purpose == "service" || purpose == "safety" {
		name += "-" + word(n.GetStage().String(), "STAGE_")
	}
	return name + "." + n.GetLanguage()
}

// parts takes a mail apart.
func parts(raw []byte) (m message, err error) {
	r, err := mail.CreateReader(bytes.NewReader(raw))
	if err != nil {
		return m, err
	}
	subject, err := r.Header.Subject()
	if err != nil {
		return m, err
	}
	for {
		part, err := r.NextPart()
		if errors.Is(err, io.EOF) {
			return m, nil
		}
		if err != nil {
			return m, err
		}
		body, err := io.ReadAll(part.Body)
		if err != nil {
			return m, err
		}
		if strings.HasPrefix(part.Header.Get("Content-Type"), "text/html") {
			m.html = string(body)
		} else {
			m.text = "Subject: " + subject + "\n\n" + string(body)
		}
	}
}

// mailsInto adds pictures of one message of each kind.
func (s *site) mailsInto(t *testing.T, a *album, b *browser, of *regexp.Regexp) error {
	if !of.MatchString("mail.") && !of.MatchString("text.") && !of.MatchString("handbook-letter") {
		return nil
	}
	if err := s.askForMails(); err != nil {
		return err
	}
	all, err := s.messages()
	if err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		a.begin(name)
		if err := b.message(a, all[name], s.dir); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	t.Logf("%d kinds of messages", len(all))
	return s.handbookLetters(a)
}

// message takes pictures of one: of a mail as it is shown, and of its words.
func (b *browser) message(a *album, m message, dir string) error {
	shown := func(file, text string) error {
		path := filepath.Join(dir, file)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			return err
		}
		_, err := chromedp.Run(b.ctx, chromedp.Navigate("file://"+path))
		return err
	}
	take := func(view string) error {
		picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
		if err != nil {
			return err
		}
		return a.add(view, picture)
	}
	if m.html != "" {
		for _, v := range mailViews {
			b.wide(v.width)
			b.shown(v.scheme, "screen")
			if err := shown("mail.html", m.html); err != nil {
				return err
			}
			if err := take(v.name); err != nil {
				return err
			}
		}
	}
	b.wide(600)
	b.shown("light", "screen")
	words := `<!doctype html><meta charset="utf-8"><title>words</title><pre style="white-space:pre-wrap">` + html.EscapeString(m.text) + "</pre>"
	if err := shown("words.html", words); err != nil {
		return err
	}
	return take("words")
}

// handbookLetters adds the letters with which a handbook comes, which wait to be
// printed.
func (s *site) handbookLetters(a *album) error {
	var names []string
	r, err := s.Reminders.ListNotices(s.ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/-", PageSize: 500})
	if err != nil {
		return err
	}
	for _, n := range r.GetNotices() {
		if n.GetChannel() == reminderv1.Channel_CHANNEL_LETTER && n.GetPurpose() == ownerv1.Purpose_PURPOSE_HANDBOOK {
			names = append(names, n.GetName())
		}
	}
	printed, err := s.Reminders.PrintLetters(s.ctx, &reminderv1.PrintLettersRequest{Notices: names})
	if err != nil {
		return err
	}
	a.begin("handbook-letter")
	return a.addPrinted("handbook-letter", printed.GetPdf())
}
