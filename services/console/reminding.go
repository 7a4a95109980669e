package console

import (
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ofVehicle gives the parent for one vehicle, or for all for "-".
func (c *Console) ofVehicle(ctx context.Context, serial string) (string, error) {
	if serial == "-" {
		return "vehicles/-", nil
	}
	name, err := c.open(ctx, serial)
	return "vehicles/" + serialOf(name), err
}

// Pending prints what comes up and what becomes of it for every person, with
// the reasons.
func (c *Console) Pending(ctx context.Context, serial string, on vehicle.Date) error {
	parent, err := c.ofVehicle(ctx, serial)
	if err != nil {
		return err
	}
	lines, err := page.All(func(token string) ([]*reminderv1.PendingLine, string, error) {
		r, err := c.Reminders.ListPending(ctx, &reminderv1.ListPendingRequest{
			Parent: parent, OnDate: vehiclewire.DateProto(on), PageSize: 500, PageToken: token,
		})
		return r.GetLines(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, lines, func(s *sheet) {
		if serial == "-" {
			pendingBriefly(s, lines)
		} else {
			pendingLines(s, lines)
		}
	})
}

// Preview prints what somebody would be told about a vehicle on a day. A
// letter is handed to save, since it is a PDF.
func (c *Console) Preview(ctx context.Context, serial, person, channel, purpose string, on vehicle.Date, save func(pdf []byte) (string, error)) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	request := &reminderv1.PreviewNoticeRequest{Parent: "vehicles/" + serialOf(name), OnDate: vehiclewire.DateProto(on)}
	if person != "" {
		request.Person = personName(person)
	}
	if channel != "" {
		value, ok := enumOf(reminderv1.Channel_value, "CHANNEL_", channel)
		if !ok {
			return fault.InvalidField("by", channel, kinds(reminderv1.Channel_name, "CHANNEL_"))
		}
		request.Channel = reminderv1.Channel(value)
	}
	if request.Purpose, err = purposeOf(purpose); err != nil {
		return err
	}
	p, err := c.Reminders.PreviewNotice(ctx, request)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return c.print(p, nil)
	}
	message, err := previewed(p, save)
	if err != nil {
		return err
	}
	return c.print(p, func(s *sheet) {
		switch {
		case p.GetWouldGo():
			s.line("This would go out%s.", byChannel[p.GetNotice().GetChannel()])
		case message == "" && request.Purpose == ownerv1.Purpose_PURPOSE_YEAR_LETTER:
			s.line("The letter of a year goes out from 27 December on: name such a day with --on.")
		case message == "":
			s.line("There is nothing to send on that day.")
		default:
			s.line("This would not go out:")
		}
		if len(p.GetLines()) > 0 {
			pendingBriefly(s, p.GetLines())
		}
		if message != "" {
			s.line("\n%s", message)
		}
	})
}

// previewed gives the message of a preview to read: of a mail its head and its
// text, a text message as it is, of a letter where it was saved; "" for none.
func previewed(p *reminderv1.PreviewNoticeResponse, save func(pdf []byte) (string, error)) (string, error) {
	if len(p.GetMessage()) == 0 {
		return "", nil
	}
	switch p.GetNotice().GetChannel() {
	case reminderv1.Channel_CHANNEL_LETTER:
		path, err := save(p.GetMessage())
		return "The letter is in " + path + ".", err
	case reminderv1.Channel_CHANNEL_TEXT:
		return string(p.GetMessage()), nil
	}
	return mailText(p.GetMessage())
}

// Stop records that somebody wants no more messages about a vehicle for a
// purpose, or with end that they want them again.
func (c *Console) Stop(ctx context.Context, serial, person, purpose string, end bool) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	of, err := purposeOf(purpose)
	if err != nil {
		return err
	}
	o := &reminderv1.OptOut{Vehicle: "vehicles/" + serialOf(name), Person: personName(person), Way: "staff", Purpose: of}
	if !end {
		if err := c.mustBeTied(ctx, o.Vehicle, o.Person); err != nil {
			return err
		}
		made, err := c.Reminders.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{OptOut: o, RequestId: uuid.NewString()})
		if err != nil {
			return err
		}
		return c.print(made, func(s *sheet) {
			s.line("%s no longer gets %s about %s. Safety campaigns still go out.", idOf(o.Person), purposeWords[of], serialOf(name))
		})
	}
	o.Name = "optOuts/" + serialOf(name) + "." + idOf(o.Person)
	if o.Purpose != ownerv1.Purpose_PURPOSE_SERVICE {
		o.Name += "." + purpose
	}
	if _, err := c.Reminders.EndOptOut(ctx, &reminderv1.EndOptOutRequest{Name: o.Name, RequestId: uuid.NewString()}); err != nil {
		return err
	}
	return c.print(o, func(s *sheet) { s.line("%s gets %s about %s again.", idOf(o.Person), purposeWords[of], serialOf(name)) })
}

// mustBeTied refuses a person who neither is nor was anything to the vehicle:
// a slip at the desk, which would let the one who was meant be written to.
func (c *Console) mustBeTied(ctx context.Context, vehicle, person string) error {
	ties, err := c.ties(ctx, vehicle)
	if err != nil || slices.ContainsFunc(ties, func(t *ownerv1.Tie) bool { return t.GetPerson() == person }) {
		return err
	}
	var known []string
	for _, t := range ties {
		known = append(known, idOf(t.GetPerson()))
	}
	return fault.InvalidField("person", idOf(person), "somebody who is or was something to the vehicle: "+strings.Join(slices.Compact(known), ", "))
}

// Calendar makes the secret address of a person's calendar of a vehicle, or
// with end makes it dead.
func (c *Console) Calendar(ctx context.Context, serial, person string, end bool) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	parent := "vehicles/" + serialOf(name)
	if end {
		r, err := c.Reminders.EndCalendarFeed(ctx, &reminderv1.EndCalendarFeedRequest{
			Name: parent + "/calendarFeeds/" + idOf(personName(person)), RequestId: uuid.NewString(),
		})
		if err != nil {
			return err
		}
		return c.print(r, func(s *sheet) { s.line("The calendar's address is dead.") })
	}
	made, err := c.Reminders.CreateCalendarFeed(ctx, &reminderv1.CreateCalendarFeedRequest{
		Parent: parent, Person: personName(person), RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) {
		address := made.GetAddress()
		if address == "" {
			address = "calendar/" + made.GetSecret() + ".ics"
			s.text("", "Below the address of the works' pages, which this process does not know (serve --public-url):")
		}
		s.line("%s", address)
		s.text("", "This address is shown this once, and an earlier one is dead from now on. Whoever has it sees when the vehicle is due: it is for "+
			idOf(personName(person))+" alone.")
	})
}

// WithdrawLinks makes every link dead that was sent to a person so far.
func (c *Console) WithdrawLinks(ctx context.Context, person string) error {
	if _, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: personName(person)}); err != nil {
		return err
	}
	r, err := c.Reminders.WithdrawLinks(ctx, &reminderv1.WithdrawLinksRequest{Person: personName(person), RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(r, func(s *sheet) { s.line("Every link that was sent to %s is dead.", idOf(personName(person))) })
}

// TakeReturn takes in a message that came back to the works.
func (c *Console) TakeReturn(ctx context.Context, recipients []string, message []byte) error {
	r, err := c.Reminders.TakeReturn(ctx, &reminderv1.TakeReturnRequest{Recipients: recipients, Message: message})
	if err != nil {
		return err
	}
	return c.print(r, func(s *sheet) {
		if r.GetNotice() == "" {
			s.line("It belongs to no notice of ours.")
			return
		}
		s.line("Of %s: %s.", r.GetNotice(), returnWords[r.GetKind()])
	})
}

// Document hands a photograph to save.
func (c *Console) Document(ctx context.Context, name string, save func(content []byte) (string, error)) error {
	r, err := c.Owners.GetDocument(ctx, &ownerv1.GetDocumentRequest{Name: name})
	if err != nil {
		return err
	}
	path, err := save(r.GetContent())
	if err != nil {
		return err
	}
	return c.print(r.GetDocument(), func(s *sheet) {
		s.line("%s, %s, is in %s.", r.GetDocument().GetTitle(), idOf(r.GetDocument().GetVehicle()), path)
	})
}
