package reminderjob

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"net/url"
	"strings"
	"time"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/remindermail"
	"halfshaft/services/reminder/remindertext"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/vehicle"
)

// render puts a draft into words for its channel, with its links, and gives the
// notice that will claim it.
func (j *Job) render(ctx context.Context, d reminder.Draft, id string, now time.Time) (reminder.Notice, parcel, error) {
	l, err := j.letter(ctx, d, id, now)
	if err != nil {
		return reminder.Notice{}, parcel{}, err
	}
	var body []byte
	segments := 0
	switch d.Channel {
	case reminder.Text:
		var text string
		if text, err = j.Words.Text(l); err == nil {
			body = []byte(text)
			segments, _ = remindertext.Segments(text)
		}
		l.MessageID = "" // that of a mail
	case reminder.Letter:
		body, err = j.sheet(l)
		l.MessageID = ""
	default:
		body, err = j.mail(l, now)
	}
	if err != nil {
		return reminder.Notice{}, parcel{}, fmt.Errorf("render: %w", err)
	}
	n := d.ToClaimed(id, l.MessageID, body, now)
	n.Language, n.Segments = j.Words.Language(d.To.Language), segments
	return n, parcel{body, addressOf(d.To, d.Channel)}, nil
}

// mail makes a mail of a letter, and signs it where the works signs its mail.
func (j *Job) mail(l reminderwords.Letter, now time.Time) ([]byte, error) {
	words, err := j.Words.Mail(l)
	if err != nil {
		return nil, err
	}
	body, err := remindermail.Compose(l, words)
	if err != nil || j.Sign == nil {
		return body, err
	}
	return j.Sign(body, now)
}

// sheet makes a letter for paper, as JSON. Its address is the one that the
// person has when it is printed.
func (j *Job) sheet(l reminderwords.Letter) ([]byte, error) {
	sheet, err := j.Words.Sheet(l)
	if err != nil {
		return nil, err
	}
	return json.Marshal(sheet)
}

// letter gathers what a message says.
func (j *Job) letter(ctx context.Context, d reminder.Draft, id string, now time.Time) (reminderwords.Letter, error) {
	_, domain, _ := strings.Cut(j.Works.From, "@")
	l := reminderwords.Letter{Works: j.Works, Draft: d, MessageID: reminder.MessageID(id, domain), Time: now}
	if j.ReturnPath != nil {
		l.Works.UnsubscribeMail = j.ReturnPath.StopAddress(reminder.Reference(id))
	}
	var err error
	if l.Parts, err = j.parts(ctx, d); err != nil {
		return l, err
	}
	if l.Links, err = j.signed(d, id, now); err != nil {
		return l, err
	}
	if d.Purpose == reminder.YearLetter {
		l.Year, err = j.yearOf(ctx, d)
	}
	return l, err
}

// signed signs the links of a message, each for the one thing that it lets the
// recipient do. Only whoever owns the vehicle is offered to hand it on; whoever
// pays for it keeps nothing of it, and can do no more by a link than stop.
func (j *Job) signed(d reminder.Draft, id string, now time.Time) (reminderwords.Links, error) {
	var all reminderwords.Links
	if j.BaseURL == "" {
		return all, nil
	}
	target := links.Target{
		Serial: string(d.Vehicle.Serial), Person: d.To.Person, Epoch: j.Store.Epoch(d.To.Person),
		Notice: strings.TrimPrefix(id, string(d.Vehicle.Serial)+"."),
	}
	want := map[links.Purpose]*string{links.Schedule: &all.Schedule, links.Odometer: &all.Odometer, links.Calendar: &all.Calendar}
	stop := links.Unsubscribe
	switch {
	case d.Purpose == reminder.YearLetter:
		stop = links.StopYearLetter
	case d.Purpose == reminder.Safety: // nothing stops it, and nothing puts it off
	case d.Purpose == reminder.Handbook:
		clear(want)
		want[links.Handbook] = &all.Handbook
		all.HandbookUntil = vehicle.DateOf(d.To.Local(now.Add(links.Handbook.Lasts()))).AddDays(-1)
	case d.Purpose.Once():
		clear(want)
		if purpose, ok := confirms[d.Lines[0].Item.Matter.Confirms]; ok {
			want[purpose] = &all.Confirm
		}
	case d.OnlyAsks():
		want[links.Snooze] = &all.Snooze
	default:
		want[links.Snooze], want[links.Booked], want[links.Done] = &all.Snooze, &all.Booked, &all.Done
	}
	switch {
	case d.Purpose.Once(): // one thing was asked for, or told
	case d.To.Role == "owner", d.To.Role == "executor":
		want[links.Transfer] = &all.Transfer
	case d.To.Role == "payer":
		clear(want)
	}
	if d.Purpose.Ends() {
		want[stop] = &all.Stop
	}
	for purpose, to := range want {
		var nonce links.Nonce
		rand.Read(nonce[:]) // never fails
		token, err := j.Links.Token(links.Link{Purpose: purpose, Subject: target.Subject(), Expires: now.Add(purpose.Lasts())}, nonce)
		if err != nil {
			return all, fmt.Errorf("sign a link: %w", err)
		}
		if *to, err = url.JoinPath(j.BaseURL, "l", token); err != nil {
			return all, fmt.Errorf("make a link: %w", err)
		}
	}
	return all, nil
}

// confirms are the purposes of the links by which something is confirmed.
var confirms = map[reminder.Confirms]links.Purpose{reminder.GivesAway: links.GiveAway, reminder.Moves: links.Move}

// parts asks which parts fit this vehicle today, for every line.
func (j *Job) parts(ctx context.Context, d reminder.Draft) (map[string][]reminderwords.Part, error) {
	out := map[string][]reminderwords.Part{}
	answers := map[string]*partsv1.PartAnswer{}
	for _, line := range d.Lines {
		if line.Item.Campaign != nil {
			out[line.Item.Cycle] = j.remedyParts(ctx, *line.Item.Campaign)
		}
		for _, need := range line.Item.Parts {
			answer := answers[need.Position]
			if answer == nil {
				var err error
				answer, err = j.Parts.AnswerPart(ctx, &partsv1.AnswerPartRequest{
					Build: "builds/" + string(d.Vehicle.Serial), Question: need.Position,
				})
				if err != nil {
					return nil, fmt.Errorf("ask for the part at %s: %w", need.Position, err)
				}
				answers[need.Position] = answer
			}
			out[line.Item.Cycle] = append(out[line.Item.Cycle], j.partLines(ctx, need, answer)...)
		}
	}
	return out, nil
}

// remedyParts gives the parts of a campaign's remedy.
func (j *Job) remedyParts(ctx context.Context, c reminder.Campaign) []reminderwords.Part {
	var out []reminderwords.Part
	for _, remedy := range c.Remedy {
		for _, p := range remedy.Parts {
			out = append(out, reminderwords.Part{
				Number: p.Number, Title: j.titleOf(ctx, "parts/"+p.Number), Position: p.Position, Quantity: max(p.Quantity, 1),
			})
		}
	}
	return out
}

// partLines gives what to ask for at a position: the part and what must be new
// with it. Where the answer is no number, the works must be asked.
func (j *Job) partLines(ctx context.Context, need reminder.PartNeed, answer *partsv1.PartAnswer) []reminderwords.Part {
	if len(answer.GetChoices()) != 1 {
		return []reminderwords.Part{{Title: strings.ReplaceAll(need.Position, "-", " "), Position: need.Position, IfNeeded: need.IfNeeded}}
	}
	c := answer.GetChoices()[0]
	quantity := need.Quantity
	if quantity == 0 {
		quantity = int(c.GetQuantity())
	}
	lines := []reminderwords.Part{{
		Number: strings.TrimPrefix(c.GetOrder().GetName(), "parts/"), Title: c.GetOrder().GetTitle(), Position: need.Position,
		Quantity: quantity, IfNeeded: need.IfNeeded, Caution: c.GetCaution(),
	}}
	for _, with := range append(c.GetAlsoOrder(), c.GetRenewWith()...) {
		lines = append(lines, reminderwords.Part{
			Number: strings.TrimPrefix(with.GetPart(), "parts/"), Title: j.titleOf(ctx, with.GetPart()), Position: need.Position, GoesWith: true,
			Quantity: max(int(with.GetQuantity()), 1), IfNeeded: need.IfNeeded,
		})
	}
	return lines
}

// titleOf gives what a part is called; the number alone will do where the
// catalogue does not say.
func (j *Job) titleOf(ctx context.Context, name string) string {
	part, err := j.Parts.GetPart(ctx, &partsv1.GetPartRequest{Name: name})
	if err != nil {
		return ""
	}
	return part.GetTitle()
}
