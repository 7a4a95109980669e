package desk

import (
	"net/http"
	"net/url"
	"strconv"
	"time"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// fleetRoutes are the pages about all vehicles at once: what waits for somebody.
func fleetRoutes() []Route {
	return []Route{
		{"GET /fleet", Staff, (*visit).showFleet},
		{"GET /fleet/due", Staff, (*visit).showDue},
		{"GET /fleet/silent", Staff, (*visit).showSilent},
		{"GET /fleet/readings", Staff, (*visit).showDoubtful},
		{"POST /fleet/readings", Staff, (*visit).settleReading},
		{"GET /fleet/notices", Staff, (*visit).showNotices},
		{"POST /fleet/notices/retry", Staff, (*visit).retryNotice},
		{"POST /fleet/notices/task", Staff, (*visit).completeTask},
		{"GET /fleet/campaigns", Staff, (*visit).showCampaigns},
		{"GET /fleet/campaigns/{bulletin}", Staff, (*visit).showCampaign},
		{"GET /fleet/campaigns/{bulletin}/{serial}", Staff, (*visit).showFollowUp},
		{"POST /fleet/campaigns/{bulletin}/{serial}", Staff, (*visit).recordFollowUp},
		{"GET /fleet/claims", Staff, (*visit).showClaims},
		{"GET /fleet/claims/{serial}/{claim}", Staff, (*visit).showClaim},
		{"POST /fleet/claims/{serial}/{claim}/decide", Engineers, (*visit).decideClaim},
		{"POST /fleet/claims/{serial}/{claim}/ask", Staff, (*visit).askClaimant},
		{"POST /fleet/claims/{serial}/{claim}/authorise", Engineers, (*visit).authoriseClaim},
		{"POST /fleet/claims/{serial}/{claim}/recovery", Staff, (*visit).recordRecovery},
		{"POST /fleet/claims/{serial}/{claim}/close", Staff, (*visit).closeClaim},
		{"GET /fleet/enquiries", Staff, (*visit).showFollowUps},
	}
}

// mostRows is how many rows a page of a list has.
const mostRows = 200

// fleetPage prints a page of the fleet, with the way back.
func (v *visit) fleetPage(status int, title string, blocks ...block) {
	blocks = append(blocks, block{Links: []link{{Label: "Everything about the fleet", Path: "/fleet"}}})
	v.render(status, view{Title: title, Wide: true, Note: v.note(), Blocks: blocks})
}

// note says what was just done.
func (v *visit) note() string {
	word := v.r.URL.Query().Get("done")
	if text := fleetNotes[word]; text != "" {
		return text
	}
	return notes[word]
}

var fleetNotes = map[string]string{
	"settled": "The reading is settled, and the vehicle's distance worked out anew.",
	"retried": "The notice is taken up again; the next pass sends it.",
	"task":    "The task is done.",
	"step":    "The step is on record.",
	"decided": "The decision is on record.",
	"asked":   "The question is with who made the claim.",

	"claim-begun":   "The draft is kept. Nobody decides it before it is handed in.",
	"claim-changed": "The change was kept.",
	"submitted":     "It is handed in, and waits for the works.",
	"taken-back":    "It was taken back.",
	"appealed":      "The works looks at it again.",
	"authorised":    "The work may begin.",
	"recovery":      "What the supplier does is on record.",
	"claim-closed":  "The claim is closed.",

	"issued":    "The bulletin is issued. Vehicles of a campaign are on its list; the next pass writes to their owners.",
	"withdrawn": "The bulletin is withdrawn.",
	"draft":     "The draft is kept. Nobody is told of it before it is issued.",
	"note":      "The note is kept. The desk is offered it once an engineer has reviewed it.",
	"reviewed":  "The note is reviewed, and offered to the desk from now on.",
}

// today is the day at the works.
func (v *visit) today() vehicle.Date {
	zone := v.d.Zone
	if zone == nil {
		zone = time.UTC
	}
	return vehicle.DateOf(v.d.Clock().In(zone))
}

// counted says how many rows a queue has, as far as one page tells.
func counted(n int, next string) string {
	switch {
	case next != "":
		return strconv.Itoa(n) + " and more"
	case n == 0:
		return "none"
	}
	return strconv.Itoa(n)
}

// queue is a list in which something waits for somebody.
type queue struct {
	label, path, what string
	count             func(v *visit) (n int, next string, err error)
}

var queues = []queue{
	{"Doubtful readings", "/fleet/readings", "count for nothing until somebody has settled them", func(v *visit) (int, string, error) {
		r, err := v.d.Schedules.ListReadings(v.as(), &schedulev1.ListReadingsRequest{Parent: "vehicles/-", PageSize: mostRows})
		return len(r.GetReadings()), r.GetNextPageToken(), err
	}},
	{"Parked notices and tasks", "/fleet/notices", "reach nobody before somebody has looked", func(v *visit) (int, string, error) {
		r, err := v.d.Reminders.ListTasks(v.as(), &reminderv1.ListTasksRequest{PageSize: mostRows})
		return len(r.GetTasks()), r.GetNextPageToken(), err
	}},
	{"Job sheets out", "/fleet/sheets", "have not come back", func(v *visit) (int, string, error) {
		r, err := v.d.JobSheets.ListJobSheets(v.as(), &jobsheetv1.ListJobSheetsRequest{Parent: "vehicles/-", States: sheetsOut, PageSize: mostRows})
		return len(r.GetJobSheets()), r.GetNextPageToken(), err
	}},
	{"Claims", "/fleet/claims", "wait for a decision or an answer", func(v *visit) (int, string, error) {
		r, err := v.d.Warranties.ListClaims(v.as(), &warrantyv1.ListClaimsRequest{Parent: "vehicles/-", States: waitingClaims, PageSize: mostRows})
		return len(r.GetClaims()), r.GetNextPageToken(), err
	}},
	{"Enquiries", "/fleet/enquiries", "were promised an answer by today", func(v *visit) (int, string, error) {
		r, err := v.d.Enquiries.ListEnquiries(v.as(), &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", OpenOnly: true,
			FollowUpByDate: vehiclewire.DateProto(v.today()), PageSize: mostRows})
		return len(r.GetEnquiries()), r.GetNextPageToken(), err
	}},
	{"Campaigns", "/fleet/campaigns", "have vehicles on their lists", func(v *visit) (int, string, error) {
		all, next, err := v.campaigns("")
		return len(all), next, err
	}},
}

// waiting says how much is in each queue.
func (v *visit) waiting() (*table, error) {
	t := &table{Caption: "What waits", Heads: []string{"What", "How many"}}
	for _, q := range queues {
		n, next, err := q.count(v)
		if err != nil {
			return nil, err
		}
		t.Rows = append(t.Rows, []cell{{Text: q.label, Path: q.path, Sub: q.what}, {Text: counted(n, next)}})
	}
	return t, nil
}

// showFleet lists what waits.
func (v *visit) showFleet() {
	t, err := v.waiting()
	if err != nil {
		v.refuse(err)
		return
	}
	v.render(http.StatusOK, view{Title: "The fleet", Note: v.note(), Blocks: []block{
		{Heading: "What waits for somebody", Table: t},
		{Heading: "What comes up", Text: []string{"Week by week, which vehicles have something to do and what decides."},
			Links: []link{{Label: "What is due by week", Path: "/fleet/due"}}},
		{Heading: "What was not heard of", Text: []string{"Vehicles whose odometer nobody read and on which no work is on record for long."},
			Links: []link{{Label: "Vehicles without recent evidence", Path: "/fleet/silent"}}},
	}})
}

// dueAhead is how many weeks the page of what is due looks ahead.
const dueAhead = 12

// showDue draws what is due week by week, and lists the vehicles.
func (v *visit) showDue() {
	on, page := v.today(), v.r.URL.Query().Get("page")
	r, err := v.d.Schedules.ListDue(v.as(), &schedulev1.ListDueRequest{WithinDays: dueAhead*7 - 1, PageSize: mostDue, PageToken: page})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Vehicles with something to do", Heads: []string{"Vehicle", "By", "What", "Why"},
		Empty: "Nothing is due within the next " + strconv.Itoa(dueAhead) + " weeks."}
	for _, s := range r.GetSchedules() {
		row, _ := dueRow(s, on)
		t.Rows = append(t.Rows, row)
	}
	var blocks []block
	if len(t.Rows) > 0 {
		blocks = []block{{Text: []string{"The most urgent first."}}}
	}
	if page == "" && len(t.Rows) > 0 {
		load, err := v.load(r, on)
		if err != nil {
			v.refuse(err)
			return
		}
		blocks = []block{{Text: []string{"Each vehicle stands in the week of the first thing it has to do. What is overdue stands in this week."},
			Drawing: figure.Block("load", figure.Reader{}, func(l figure.Layout) figure.Figure { return load.Figure(figure.Reader{}, l) })}}
	}
	v.fleetPage(http.StatusOK, "What is due by week", append(blocks, block{Heading: "Vehicles", Table: t, Links: more("/fleet/due?page=", url.QueryEscape(r.GetNextPageToken()))})...)
}

// mostDue is how many vehicles a page of what is due has.
const mostDue = 100

// load counts the vehicles of all weeks, beginning with a page that is read.
func (v *visit) load(r *schedulev1.ListDueResponse, on vehicle.Date) (figure.Load, error) {
	load := figure.Load{Name: v.d.Works, Unit: "vehicles"}
	monday := on.AddDays(-(int(on.Weekday()) + 6) % 7)
	for n := range dueAhead {
		load.Weeks = append(load.Weeks, figure.Week{From: monday.AddDays(7 * n)})
	}
	for {
		for _, s := range r.GetSchedules() {
			_, by := dueRow(s, on)
			if n := monday.DaysUntil(by) / 7; n < len(load.Weeks) {
				load.Weeks[max(0, n)].Due++
			}
		}
		if r.GetNextPageToken() == "" {
			return load, nil
		}
		var err error
		r, err = v.d.Schedules.ListDue(v.as(), &schedulev1.ListDueRequest{WithinDays: dueAhead*7 - 1, PageSize: mostDue, PageToken: r.GetNextPageToken()})
		if err != nil {
			return load, err
		}
	}
}

// dueRow is a vehicle with the first thing it has to do.
func dueRow(s *schedulev1.Schedule, on vehicle.Date) ([]cell, vehicle.Date) {
	serial := serialIn(s.GetName())
	row := []cell{{Text: serial, Path: vehiclePath(serial), Mono: true}, {Text: "now"}, {Text: "a reading is to be asked for"}, {Text: s.GetReadingRequest().GetReason().GetSentence()}}
	if len(s.GetItems()) == 0 {
		return row, on
	}
	first := s.GetItems()[0]
	for _, x := range s.GetItems() {
		if onDay(x.GetActByDate()).Before(onDay(first.GetActByDate())) {
			first = x
		}
	}
	by := onDay(first.GetActByDate())
	row[1] = cell{Text: by.Long(), Tight: true, Sub: word(first.GetState(), "DUE_STATE_")}
	row[2] = cell{Text: first.GetTitle()}
	if n := len(s.GetItems()) - 1; n > 0 {
		row[2].Sub = "and " + wording.Count(n, "other item")
	}
	row[3] = cell{Text: first.GetSentence()}
	if ask := s.GetReadingRequest(); ask != nil { // for which it may stand before others
		row[3].Sub = "Before that, a reading is to be asked for."
	}
	return row, by
}

// campaigns lists the issued bulletins that are campaigns.
func (v *visit) campaigns(token string) ([]*bulletinv1.Bulletin, string, error) {
	r, err := v.d.Bulletins.ListBulletins(v.as(), &bulletinv1.ListBulletinsRequest{
		States: []bulletinv1.BulletinState{bulletinv1.BulletinState_BULLETIN_STATE_ISSUED}, PageSize: mostRows, PageToken: token,
	})
	var out []*bulletinv1.Bulletin
	for _, b := range r.GetBulletins() {
		if b.GetKind() == bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN {
			out = append(out, b)
		}
	}
	return out, r.GetNextPageToken(), err
}
