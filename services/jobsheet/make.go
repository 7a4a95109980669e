package jobsheet

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// mostJobs bounds a sheet: a record and a page of a desk hold it.
const mostJobs = 120

// Make makes the sheet. What could not be said is on it, as a gap: a sheet that
// leaves something out without a word is worse than none.
func Make(f Facts) (Sheet, error) {
	s := Sheet{
		Serial: f.Serial, Visit: f.Visit, Plate: f.Plate, State: Open, Identity: f.Identity, Distance: f.Distance,
		Warnings: slices.Clone(f.Warnings), Sample: f.Sample, Sources: f.Sources, Gaps: slices.Clone(f.Gaps),
	}
	seen := map[string]bool{}
	for _, r := range urgentFirst(f.Remedies) {
		s.Warnings = append(s.Warnings, r.warning())
		s.Sample = s.Sample || r.Sample
		for i := range r.Items {
			s.add(r.job(&r.Items[i]), seen)
		}
	}
	for _, i := range inOrder(f.Items) {
		s.add(s.itemJob(i, &f), seen)
	}
	if len(s.Jobs) == 0 {
		return s, fault.New(fault.FailedPrecondition, "NOTHING_TO_DO", "Nothing is to be done on %s in that visit: name the items.", f.Serial)
	}
	if len(s.Jobs) > mostJobs {
		return s, fault.InvalidField("item_ids", fmt.Sprintf("%d jobs", len(s.Jobs)), fmt.Sprintf("at most %d on one sheet", mostJobs))
	}
	slices.SortStableFunc(s.Warnings, func(a, b vehicle.Reason) int { return urgency(a) - urgency(b) })
	s.Cautions = wholeVisit(s.Jobs, f.Options)
	s.sum()
	return s, nil
}

// shimLine is the line of a change of a pack: "2.s1".
func shimLine(job, i int) string { return fmt.Sprintf("%d.s%d", job, i+1) }

// add puts a job at the end, once.
func (s *Sheet) add(j Job, seen map[string]bool) {
	if seen[j.Item] {
		return
	}
	seen[j.Item] = true
	j.Number = len(s.Jobs) + 1
	for i := range j.Values {
		j.Values[i].Line = fmt.Sprintf("%d.%d", j.Number, i+1)
	}
	for i := range j.Shims {
		j.Shims[i].Line = shimLine(j.Number, i)
	}
	s.Jobs = append(s.Jobs, j)
}

// warning says that a campaign is open.
func (r *Remedy) warning() vehicle.Reason {
	rule, says := "CAMPAIGN_OPEN", "Campaign %s is open: %s."
	if r.StopUse {
		rule, says = "STOP_USE", "NOT TO BE DRIVEN until campaign %s is done: %s."
	}
	return vehicle.Reason{
		Rule: rule, Record: r.FollowUp, Sentence: fmt.Sprintf(says, r.Campaign, strings.TrimSuffix(r.Title, ".")),
		Facts: []vehicle.Fact{{Name: "campaign", Value: r.Campaign}, {Name: "title", Value: r.Title}},
	}
}

func urgency(r vehicle.Reason) int {
	if r.Rule == "STOP_USE" {
		return 0
	}
	return 1
}

// Cautions for whatever is done on a raised vehicle. That a brake on the output
// of the transfer case does not hold then follows from where it stands: with a
// half shaft out, a propshaft off or a driven wheel in the air nothing connects
// it to the ground.
const (
	raised  = "Raised: wheels chocked, stands under axle or frame, never a jack alone. Loosen wheel nuts on the ground."
	slips   = "Limited-slip axle: turned with one wheel on the ground it drives the vehicle off its stands. Raise both wheels of the axle before one is turned, and never run the engine in gear."
	noBrake = "The transmission (parking) brake holds nothing with a driven wheel raised, a half shaft out or a propshaft off: chock both ways."
)

// lifting are groups of work for which a vehicle is raised or its drive line
// opened (common practice, no source).
var lifting = []string{
	"transfer case", "gearbox", "propshafts", "front axle", "rear axle", "axles", "swivels", "hubs", "brakes",
	"steering", "suspension", "wheels", "chassis", "clutch",
}

// limitedSlip are the options that lock an axle (common practice, no source).
var limitedSlip = []string{"lsd-front", "lsd-rear"}

// wholeVisit gives the cautions that hold before any work.
func wholeVisit(jobs []Job, options []string) []string {
	for i := range jobs {
		if slices.Contains(lifting, jobs[i].Group) || jobs[i].Remedy() {
			out := []string{raised, noBrake}
			if slices.ContainsFunc(options, func(o string) bool { return slices.Contains(limitedSlip, o) }) {
				out = append(out, slips)
			}
			return out
		}
	}
	return nil
}
