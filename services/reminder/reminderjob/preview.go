package reminderjob

import (
	"cmp"
	"context"
	"encoding/json"
	"net/url"
	"slices"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderletter"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/vehicle"
)

// PreviewAsk is what somebody wants to see.
type PreviewAsk struct {
	Serial  vehicle.Serial
	Day     vehicle.Date     // zero is today
	Person  string           // "" is the first who would be told
	Channel reminder.Channel // "" is the one that would be used
	Purpose reminder.Purpose // 0 is service
}

// Preview is what somebody would be told.
type Preview struct {
	Notice  *reminder.Notice   // nil when nothing comes up on that day
	Message []byte             // RFC 5322 for mail, UTF-8 for a text message, PDF for a letter
	WouldGo bool               // whether a pass of that day claims it
	Lines   []reminder.Pending // of the person and the purpose: item by item, why or why not
}

// Preview renders what somebody would be told about a vehicle on a day, as a
// pass would, whether or not it would go out: what was told before, what was
// answered and what keeps it back only show in WouldGo and Lines. Its links
// lead below /preview/ and open nothing. Nothing is claimed.
func (j *Job) Preview(ctx context.Context, ask PreviewAsk) (*Preview, error) {
	j, ctx = j.aside(), AsService(ctx)
	if err := j.previews(); err != nil {
		return nil, err
	}
	ask.Purpose = max(ask.Purpose, reminder.Service)
	c, err := j.previewCase(ctx, ask)
	if err != nil {
		return nil, err
	}
	to, err := addressee(c, ask)
	if err != nil {
		return nil, err
	}
	c.Now = hoursOf(to, c.Now, j.Clock())
	plan := reminder.Select(c)
	out := &Preview{}
	if !j.sends() {
		unsent(plan.Lines)
	}
	for _, l := range plan.Lines {
		if (l.Person == to.Person || l.Person == "") && l.Item.Purpose() == ask.Purpose {
			out.Lines = append(out.Lines, l)
		}
	}
	would, found := draftTo(plan.Drafts, to.Person, ask)
	out.WouldGo = found
	if !found {
		if would, found = draftTo(reminder.Select(unhindered(c, to, ask)).Drafts, to.Person, ask); !found {
			return out, nil
		}
		would.To = to
	}
	n, p, err := j.render(ctx, would, would.NoticeID(1)+".preview", c.Now)
	if err != nil {
		return nil, err
	}
	out.Notice, out.Message = &n, p.body
	if n.Channel != reminder.Letter {
		return out, nil
	}
	out.Message, err = j.printed([]addressed{{kept: n, to: to, body: p.body}})
	if fault.Is(err, fault.Invalid) {
		err = fault.New(fault.FailedPrecondition, "ADDRESS_NOT_PRINTABLE", "The postal address of people/%s cannot be printed: there is none, or it does not fit.", to.Person)
	}
	return out, err
}

// What stands in a preview where the process was started without the works'
// name, its mail address or that of its pages. Names below .invalid lead
// nowhere (RFC 2606 section 2).
const (
	noName = "(the works' name is not set here)"
	noFrom = "no-address-is-set-here@works.invalid"
	noBase = "https://no-address-is-set-here.invalid"
)

// previews makes a job whose messages can be told from real ones: its links
// are signed by nobody's key, and nothing comes back to it.
func (j *Job) previews() error {
	j.Links = links.Ring{{ID: 0, Secret: make([]byte, links.KeySize)}}
	j.ReturnPath, j.Sign = nil, nil
	j.Works.Name = cmp.Or(j.Works.Name, noName)
	j.Works.From = cmp.Or(j.Works.From, noFrom)
	j.BaseURL = cmp.Or(j.BaseURL, noBase)
	var err error
	j.BaseURL, err = url.JoinPath(j.BaseURL, "preview")
	return err
}

// previewCase gathers what a decision about the vehicle on that day rests on.
func (j *Job) previewCase(ctx context.Context, ask PreviewAsk) (reminder.Case, error) {
	if err := j.Store.Sync(ctx); err != nil {
		return reminder.Case{}, err
	}
	w := newWorld(j.Clock())
	if !ask.Day.IsZero() && ask.Day != vehicle.DateOf(w.now.UTC()) {
		w.now, w.on = ask.Day.Start(time.UTC).Add(12*time.Hour), ask.Day
	}
	j.campaignsNow(ctx, w, ask.Serial)
	c, err := j.caseNow(ctx, w, ask.Serial)
	if err != nil {
		return c, err
	}
	if year, ok := yearOn(w.now); ok || ask.Purpose == reminder.YearLetter {
		if !ok {
			year = w.now.UTC().Year()
		}
		c.Vehicle.Items = append(c.Vehicle.Items, reminder.YearItem(year))
	}
	return c, nil
}

// addressee gives whom it is for: the one that was asked for, or the first who
// would be told, or the first whom notices go to.
func addressee(c reminder.Case, ask PreviewAsk) (reminder.Recipient, error) {
	if ask.Person != "" {
		at := slices.IndexFunc(c.People, func(r reminder.Recipient) bool { return r.Person == ask.Person })
		if at < 0 {
			return reminder.Recipient{}, fault.New(fault.FailedPrecondition, "NOT_TIED",
				"The person %s is nothing to the vehicle %s on that day.", ask.Person, ask.Serial)
		}
		return c.People[at], nil
	}
	if len(c.People) == 0 {
		return reminder.Recipient{}, fault.New(fault.FailedPrecondition, "NOBODY_TIED",
			"Nobody is recorded with the vehicle %s on that day.", ask.Serial)
	}
	plan := reminder.Select(c)
	for _, would := range [][]reminder.Draft{plan.Drafts, plan.Held} {
		for _, d := range would {
			if max(d.Purpose, reminder.Service) == ask.Purpose {
				return d.To, nil
			}
		}
	}
	if at := slices.IndexFunc(c.People, func(r reminder.Recipient) bool { return r.Notices }); at >= 0 {
		return c.People[at], nil
	}
	return c.People[0], nil
}

// hoursOf gives the first moment of a day, by the person's own calendar, at
// which they are within their hours; of today the first from now on, and now
// when their hours are over.
func hoursOf(to reminder.Recipient, now, present time.Time) time.Time {
	from := to.Local(present)
	if day := vehicle.DateOf(to.Local(now)); day != vehicle.DateOf(from) {
		from = day.Start(from.Location())
	}
	for t := from; vehicle.DateOf(t) == vehicle.DateOf(from); t = t.Truncate(time.Hour).Add(time.Hour) {
		if to.Reachable(t) {
			return t.UTC()
		}
	}
	return now
}

// draftTo finds the draft to a person for a purpose, by the channel that was
// asked for.
func draftTo(drafts []reminder.Draft, person string, ask PreviewAsk) (reminder.Draft, bool) {
	at := slices.IndexFunc(drafts, func(d reminder.Draft) bool {
		return d.To.Person == person && max(d.Purpose, reminder.Service) == ask.Purpose && (ask.Channel == "" || d.Channel == ask.Channel)
	})
	if at < 0 {
		return reminder.Draft{}, false
	}
	return drafts[at], true
}

// unhindered is the case as it would be if nothing had been told or answered
// and nothing kept the person from being told.
func unhindered(c reminder.Case, to reminder.Recipient, ask PreviewAsk) reminder.Case {
	c.Claims, c.Answers, c.Recent, c.OptOuts, c.NoYear = nil, nil, nil, nil, nil
	c.Vehicle.Scrapped = false
	c.Vehicle.Items = slices.Clone(c.Vehicle.Items)
	for n, i := range c.Vehicle.Items {
		if i.Campaign != nil {
			campaign := *i.Campaign
			campaign.Booked, campaign.Notified = vehicle.Date{}, vehicle.Date{}
			c.Vehicle.Items[n].Campaign = &campaign
		}
	}
	channel := ask.Channel
	if channel == "" {
		channel = firstWay(to, ask.Purpose)
	}
	ways := []reminder.Channel{channel}
	to.Ways, to.YearWays, to.Safety, to.Unasked = ways, ways, ways, nil
	to.Notices, to.Yearly, to.Refused, to.Deceased, to.Hours = true, true, false, false, reminder.Hours{From: 0, Until: 24}
	c.People = []reminder.Recipient{to}
	return c
}

// firstWay gives the channel that would be used, or else the usual one.
func firstWay(to reminder.Recipient, p reminder.Purpose) reminder.Channel {
	ways := to.Ways
	switch p {
	case reminder.YearLetter:
		ways = to.YearWays
	case reminder.Safety:
		ways = to.Safety
	}
	if len(ways) == 0 {
		return reminder.Mail
	}
	return ways[0]
}

// addressed is a letter with where it goes.
type addressed struct {
	kept reminder.Notice
	to   reminder.Recipient
	body []byte // its sheet, as JSON
}

// printed prints letters, each on sheets of its own.
func (j *Job) printed(letters []addressed) ([]byte, error) {
	all := make([]reminderletter.Addressed, len(letters))
	for i, l := range letters {
		var err error
		if all[i], err = l.onPaper(); err != nil {
			return nil, err
		}
	}
	return reminderletter.Print(j.paper(), all)
}

func (j *Job) paper() reminderletter.Config {
	return reminderletter.Config{Works: j.Works, Paper: reminderletter.Paper(j.Paper)}
}

// onPaper gives a letter as it is printed, to the address that the person has
// now, with its name in front; to no lines where there is no address, which
// cannot be printed.
func (l addressed) onPaper() (reminderletter.Addressed, error) {
	var sheet reminderwords.Sheet
	if err := json.Unmarshal(l.body, &sheet); err != nil {
		return reminderletter.Addressed{}, fault.New(fault.Internal, "SHEET_DAMAGED", "the sheet of a letter cannot be read")
	}
	to := l.to.Postal
	if l.to.Name != "" && len(to) > 0 && to[0] != l.to.Name {
		to = append([]string{l.to.Name}, to...)
	}
	return reminderletter.Addressed{To: to, Sheet: sheet, Reference: l.kept.Reference}, nil
}
