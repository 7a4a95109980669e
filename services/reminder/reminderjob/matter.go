package reminderjob

import (
	"context"
	"fmt"
	"slices"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// SendConfirmation claims the message with the link by which somebody confirms
// that the vehicle is to go to a new owner, or that they are to be written to
// elsewhere. It goes to the address on record and nowhere else.
func (j *Job) SendConfirmation(ctx context.Context, q reminderstore.Request, serial vehicle.Serial, person string, what reminder.Confirms) (*reminderv1.SendConfirmationResponse, error) {
	answer := &reminderv1.SendConfirmationResponse{}
	if found, err := j.Store.Replay(ctx, q, answer); err != nil || found {
		return answer, err
	}
	cause := q.ID
	if cause == "" {
		cause = kv.NewID()
	}
	w := newWorld(j.Clock())
	w.scheduleless = true
	asService := AsService(ctx)
	c, err := j.caseNow(asService, w, serial)
	if err != nil {
		return nil, err
	}
	item := reminder.MatterItem(reminder.Matter{Confirms: what}, cause, vehicle.DateOf(j.now()))
	d, ok := c.MatterTo(item, person, reminder.Confirmable)
	if !ok || j.BaseURL == "" {
		return nil, fault.New(fault.FailedPrecondition, "CANNOT_BE_ASKED",
			"No link can be sent to the person %s: it takes a mail address on record that works, or a number and their agreement to text messages.", person)
	}
	n, _, sealed, err := j.prepare(asService, d, d.NoticeID(1))
	if err != nil {
		return nil, err
	}
	answer.Channel = reminderwire.NoticeProto(n).GetChannel()
	replayed, err := j.Store.ClaimAsked(ctx, q, []reminder.Notice{n}, []reminderstore.Sealed{sealed}, answer)
	if err == nil && !replayed {
		j.metrics.noteClaim(n)
	}
	return answer, err
}

// tellChanged claims a message to each mail address or number that was replaced
// and not told of it yet, and has its record forgotten then. A claim is named
// after its change, so that whatever is cut off between the two is told once.
func (j *Job) tellChanged(ctx context.Context) error {
	var all []*ownerv1.ContactChange
	err := page.Each(func(token string) ([]*ownerv1.ContactChange, string, error) {
		r, err := j.Owners.ListContactChanges(ctx, &ownerv1.ListContactChangesRequest{Parent: "people/-", PageSize: pageSize, PageToken: token})
		return r.GetContactChanges(), r.GetNextPageToken(), err
	}, func(c *ownerv1.ContactChange) error {
		all = append(all, c)
		return nil
	})
	if err != nil || len(all) == 0 {
		if err != nil {
			err = fmt.Errorf("ask whose address was replaced: %w", err)
		}
		return err
	}
	for _, c := range all {
		if err := j.tellChange(ctx, c); err != nil {
			if ctx.Err() != nil {
				return err
			}
			j.Logger.Error("a former address was not told that it was replaced; the next pass tries again", "error", err)
		}
	}
	return nil
}

// contactChangeForm is the form of a change's name.
const contactChangeForm = "people/{person}/contactChanges/{contact_change}"

func (j *Job) tellChange(ctx context.Context, c *ownerv1.ContactChange) error {
	ids, err := resname.Match("name", contactChangeForm, c.GetName())
	if err != nil {
		return err
	}
	d, ok, err := j.changeDraft(ctx, ids[0], c)
	if err != nil {
		return err
	}
	if ok {
		n, _, sealed, err := j.prepare(ctx, d, d.NoticeID(1))
		if err != nil {
			return err
		}
		err = j.Store.ClaimOnce(ctx, n, sealed)
		if err != nil && !fault.Is(err, fault.AlreadyExists) {
			return err
		}
		if err == nil {
			j.metrics.noteClaim(n)
		}
	}
	_, err = j.Owners.DeleteContactChange(ctx, &ownerv1.DeleteContactChangeRequest{Name: c.GetName()})
	return err
}

// changeDraft is what the former address is told; ok is false where nothing hangs
// on it: its reader has no vehicle, has died, or could not be reached there. The
// mail address is told of both; where it stays, it is told that the number was
// replaced; and the number itself only where nothing else reaches its reader.
func (j *Job) changeDraft(ctx context.Context, person string, c *ownerv1.ContactChange) (d reminder.Draft, ok bool, err error) {
	r, known, err := j.person(ctx, newWorld(j.Clock()), person)
	if err != nil || !known || r.Deceased {
		return d, false, err
	}
	vehicles, role, err := j.vehiclesOf(ctx, person)
	if err != nil || len(vehicles) == 0 {
		return d, false, err
	}
	matter := reminder.Matter{Email: c.GetFormerEmail() != "", Phone: c.GetFormerPhone() != "", At: vehiclewire.Moment(c.GetChangeTime())}
	item := reminder.MatterItem(matter, c.GetName(), vehicle.DateOf(j.now()))
	if j.told(vehicles, person, item) {
		return d, false, nil
	}
	r.Role = role[vehicles[0]]
	var by reminder.Channel
	former := j.reached(reminder.Recipient{Address: c.GetFormerEmail()}).Address
	switch {
	case c.GetFormerEmail() != "" && former != "" && j.Mail != nil:
		r.Address, by = former, reminder.Mail
	case c.GetFormerEmail() == "" && slices.Contains(r.Asked, reminder.Mail):
		by = reminder.Mail
	case c.GetFormerPhone() != "" && slices.Contains(r.Asked, reminder.Text):
		r.Phone, by = c.GetFormerPhone(), reminder.Text
	default:
		return d, false, nil
	}
	return reminder.Draft{
		Vehicle: reminder.Vehicle{Serial: vehicles[0]}, To: r, Channel: by, Stage: reminder.Due,
		Lines: []reminder.Line{{Item: item, Stage: reminder.Due}}, Purpose: reminder.Changed,
	}, true, nil
}

// told reports whether a claim of before tells of the item already. Its name holds
// the vehicle and the channel, and either may be another since, where the pass that
// claimed it was cut off.
func (j *Job) told(vehicles []vehicle.Serial, person string, item reminder.Item) bool {
	return slices.ContainsFunc(vehicles, func(serial vehicle.Serial) bool {
		return slices.ContainsFunc(j.Store.Claims(serial), func(c reminder.Claim) bool { return c.Person == person && c.Cycle == item.Cycle })
	})
}

// vehiclesOf are the vehicles that somebody is tied to today, in order, and as what.
// Those who have just given one away had it when their address was replaced, so
// that ties that ended of late count too.
func (j *Job) vehiclesOf(ctx context.Context, person string) (found []vehicle.Serial, role map[vehicle.Serial]string, err error) {
	w := newWorld(j.Clock())
	if err := j.askTies(ctx, w, "vehicles/-"); err != nil {
		return nil, nil, err
	}
	role = map[vehicle.Serial]string{}
	for serial, ties := range w.ties {
		for _, t := range ties {
			if t.Person == person && (t.End.IsZero() || t.End.DaysUntil(w.day()) <= changedFor) {
				found, role[serial] = append(found, serial), t.Role
				break
			}
		}
	}
	slices.Sort(found)
	return found, role, nil
}

// changedFor is for how many days after a tie's end somebody is still told that
// their address was replaced (common practice, no source).
const changedFor = 30
