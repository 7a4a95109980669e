package enquiry

import (
	"fmt"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// What comes from an export, or from another works' records, comes with who said
// what and when, which no call records again. These look at that; Check looks at
// the rest.

const (
	maxBy      = 200 // characters of who recorded or answered
	maxRelease = 64  // bytes of a release's identifier
)

// aDay is by how much clocks of processes may differ, generously: what they wrote
// must come back in.
const aDay = 24 * time.Hour

// Restored says all that is wrong with an enquiry that comes with its answers, in
// a works whose time is now.
func (e Enquiry) Restored(now time.Time) error {
	now = now.Add(aDay)
	asked := vehicle.DateOf(e.Asked.In(now.Location()))
	if e.FollowUp == asked.AddDays(-1) { // which was the day it was asked by a clock further west
		e.FollowUp = asked
	}
	bad := collector(fault.FieldsOf("", e.Check(now)))
	if len(e.Answers) > maxAnswers {
		bad.add("answers", fmt.Sprintf("%d answers", len(e.Answers)), fmt.Sprintf("at most %d", maxAnswers))
	}
	before := e.Asked
	for i, a := range e.Answers {
		at := fmt.Sprintf("answers[%d]", i)
		if strings.TrimSpace(a.By) == "" || fault.Longer(a.By, maxBy) {
			bad.add(at+".answered_by", a.By, "who answered")
		}
		switch {
		case a.At.IsZero() || a.At.After(now):
			bad.add(at+".answer_time", a.At.Format(time.RFC3339), "when it was answered, now, "+now.Format(time.RFC3339)+", or earlier")
		case a.At.Before(before.Add(-aDay)):
			bad.add(at+".answer_time", a.At.Format(time.RFC3339), "not before the question or the answer before it, "+before.Format(time.RFC3339))
		}
		before = a.At
	}
	if fault.Longer(e.RecordedBy, maxBy) {
		bad.add("recorded_by", fault.Length(e.RecordedBy), fault.AtMost(maxBy))
	}
	if len(e.Release) > maxRelease || strings.ContainsFunc(e.Release, func(r rune) bool { return r <= ' ' || r == '/' }) {
		bad.add("release", e.Release, `a release, as in "R3"`)
	}
	return fault.InvalidFields(bad)
}

// AskedBy gives when an enquiry was asked, where nobody says: by now, or by when
// it was answered.
func (e Enquiry) AskedBy(now time.Time) time.Time {
	switch {
	case !e.Asked.IsZero():
		return e.Asked
	case len(e.Answers) > 0 && !e.Answers[0].At.IsZero() && e.Answers[0].At.Before(now):
		return e.Answers[0].At
	}
	return now
}

// Restored says all that is wrong with a note that comes with its review.
func (n Note) Restored(now time.Time) error {
	bad := collector(fault.FieldsOf("", n.Check()))
	now = now.Add(aDay)
	if n.ReviewedBy == "" != n.Reviewed.IsZero() || fault.Longer(n.ReviewedBy, maxBy) {
		bad.add("reviewed_by", n.ReviewedBy, "who reviewed it, with the time, or neither")
	}
	if n.Reviewed.After(now) {
		bad.add("review_time", n.Reviewed.Format(time.RFC3339), "when it was reviewed, now, "+now.Format(time.RFC3339)+", or earlier")
	}
	return fault.InvalidFields(bad)
}
