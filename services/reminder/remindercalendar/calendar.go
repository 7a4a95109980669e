// Package remindercalendar writes the calendar that a person subscribes to for
// one vehicle: iCalendar (RFC 5545) with the properties of RFC 7986. Everything
// in it is an event of whole days, which belongs to no time zone.
package remindercalendar

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"

	ics "github.com/arran4/golang-ical"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// ContentType is the media type of what Render writes (RFC 5545 section 8.1).
const ContentType = "text/calendar; charset=utf-8"

// productID names the program that wrote the calendar (RFC 5545 section 3.7.3).
const productID = "-//halfshaft//service calendar//EN"

// Calendar is what one feed shows.
type Calendar struct {
	Name        string        // how the calendar is called in a list of calendars
	Description string        // "" for none
	Source      string        // where it is read from; "" keeps that out
	Refresh     time.Duration // how often it is worth reading again, whole hours; 0 is a day
	Events      []Event       // as they are to stand in it; each identifier once
}

// Event is one event of whole days.
type Event struct {
	UID         string       // the same as long as the event is the same
	Sequence    int          // rises by one with each change that matters; from 0
	Stamp       time.Time    // when it changed last
	First       vehicle.Date // its first day
	Last        vehicle.Date // its last day, which belongs to it; zero is First
	Summary     string
	Description string   // may have line breaks
	Categories  []string // one line each, without commas and backslashes, which some programs misread though escaped
	Status      Status
	URL         string // "" for none
}

// Status is how sure an event is (RFC 5545 section 3.8.1.11).
type Status string

// The statuses. The zero value is Confirmed.
const (
	Tentative Status = "TENTATIVE"
	Confirmed Status = "CONFIRMED"
	Cancelled Status = "CANCELLED"
)

// Render writes a calendar: lines end in CRLF and are folded at 75 octets. The
// same calendar gives the same bytes. Control characters are left out of
// texts, and all kinds of line break become one. A calendar that no program
// could use is refused as Invalid, with every field that is wrong.
func Render(c Calendar) ([]byte, error) {
	if err := fault.InvalidFields(check(c)); err != nil {
		return nil, err
	}
	cal := &ics.Calendar{}
	add := func(name, value string, parameters map[string][]string) {
		cal.CalendarProperties = append(cal.CalendarProperties, ics.CalendarProperty{BaseProperty: ics.BaseProperty{
			IANAToken: name, Value: value, ICalParameters: parameters}})
	}
	add("VERSION", "2.0", nil)
	add("PRODID", productID, nil)
	add("CALSCALE", "GREGORIAN", nil)
	add("NAME", text(c.Name), nil)
	add("X-WR-CALNAME", text(c.Name), nil) // common practice from before RFC 7986
	if c.Description != "" {
		add("DESCRIPTION", text(c.Description), nil)
		add("X-WR-CALDESC", text(c.Description), nil)
	}
	refresh := duration(c.Refresh)
	add("REFRESH-INTERVAL", refresh, map[string][]string{"VALUE": {"DURATION"}})
	add("X-PUBLISHED-TTL", refresh, nil) // common practice from before RFC 7986
	if c.Source != "" {
		add("SOURCE", c.Source, map[string][]string{"VALUE": {"URI"}})
	}
	for _, e := range c.Events {
		addEvent(cal, e)
	}
	var b bytes.Buffer
	if err := cal.SerializeTo(&b, ics.WithNewLineWindows, ics.WithLineLength(75)); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func addEvent(cal *ics.Calendar, e Event) {
	v := cal.AddEvent(text(e.UID))
	stamp := e.Stamp.UTC().Format("20060102T150405Z")
	date := []ics.PropertyParameter{ics.WithValue("DATE")}
	v.SetProperty(ics.ComponentPropertyDtstamp, stamp)
	v.SetProperty(ics.ComponentPropertyLastModified, stamp)
	v.SetSequence(e.Sequence)
	v.SetProperty(ics.ComponentPropertyDtStart, day(e.First), date...)
	last := e.Last
	if last.IsZero() {
		last = e.First
	}
	// The end is the first day that no longer belongs to it (RFC 5545 section
	// 3.6.1).
	v.SetProperty(ics.ComponentPropertyDtEnd, day(last.AddDays(1)), date...)
	v.SetSummary(text(e.Summary))
	if e.Description != "" {
		v.SetDescription(text(e.Description))
	}
	for _, c := range e.Categories {
		v.AddCategory(text(c))
	}
	status := e.Status
	if status == "" {
		status = Confirmed
	}
	v.SetStatus(ics.ObjectStatus(status))
	v.SetTimeTransparency(ics.TransparencyTransparent)
	if e.URL != "" {
		v.SetURL(e.URL)
	}
}

func day(d vehicle.Date) string { return fmt.Sprintf("%04d%02d%02d", d.Year, int(d.Month), d.Day) }

// duration writes whole hours as RFC 5545 section 3.3.6 does.
func duration(d time.Duration) string {
	if d == 0 {
		d = 24 * time.Hour
	}
	hours := int(d / time.Hour)
	switch {
	case hours%24 == 0:
		return "P" + strconv.Itoa(hours/24) + "D"
	case hours < 24:
		return "PT" + strconv.Itoa(hours) + "H"
	}
	return "P" + strconv.Itoa(hours/24) + "DT" + strconv.Itoa(hours%24) + "H"
}

// text makes of anything what may stand in a TEXT value (RFC 5545 section
// 3.3.11), before it is escaped.
func text(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n").Replace(s)
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return -1
		}
		return r
	}, s)
}

// Tag gives the entity tag of what Render wrote, quoted as it stands in an
// ETag header (RFC 9110 section 8.8.3): other bytes have another one.
func Tag(rendered []byte) string {
	sum := sha256.Sum256(rendered)
	return `"` + hex.EncodeToString(sum[:16]) + `"`
}

// check gives what is wrong with a calendar.
func check(c Calendar) (wrong []fault.Field) {
	add := func(name, got, want string) { wrong = append(wrong, fault.Field{Name: name, Got: got, Want: want}) }
	if strings.TrimSpace(text(c.Name)) == "" {
		add("calendar.name", c.Name, "a name")
	}
	if c.Refresh < 0 || c.Refresh%time.Hour != 0 || c.Refresh > 365*24*time.Hour {
		add("calendar.refresh", c.Refresh.String(), "whole hours, at most a year")
	}
	if c.Source != "" && !isURI(c.Source) {
		// The address is a secret and is not told.
		add("calendar.source", "something else", "an absolute address")
	}
	seen := map[string]bool{}
	for i, e := range c.Events {
		at := fmt.Sprintf("calendar.events[%d].", i)
		if uid := text(e.UID); uid == "" || uid != e.UID || strings.ContainsAny(uid, "\n\t") {
			add(at+"uid", e.UID, "an identifier in one line")
		} else if seen[uid] {
			add(at+"uid", e.UID, "each identifier once")
		}
		seen[e.UID] = true
		if e.Sequence < 0 || int64(e.Sequence) > 1<<31-1 {
			add(at+"sequence", strconv.Itoa(e.Sequence), "0 to 2147483647")
		}
		if y := e.Stamp.UTC().Year(); e.Stamp.IsZero() || y < 1970 || y > 9999 {
			add(at+"stamp", e.Stamp.String(), "when it changed last")
		}
		if !e.First.Valid() {
			add(at+"first", e.First.String(), "a day of the calendar")
		}
		if !e.Last.IsZero() && (!e.Last.Valid() || e.Last.Before(e.First)) || e.Last.Year == 9999 || e.First.Year == 9999 {
			add(at+"last", e.Last.String(), "a day not before the first, before the year 9999")
		}
		if strings.TrimSpace(text(e.Summary)) == "" {
			add(at+"summary", e.Summary, "some words")
		}
		for j, category := range e.Categories {
			if strings.TrimSpace(text(category)) == "" || strings.ContainsAny(category, ",\\\r\n") {
				add(fmt.Sprintf("%scategories[%d]", at, j), category, "words in one line without commas and backslashes")
			}
		}
		switch e.Status {
		case "", Tentative, Confirmed, Cancelled:
		default:
			add(at+"status", string(e.Status), "TENTATIVE, CONFIRMED or CANCELLED")
		}
		if e.URL != "" && !isURI(e.URL) {
			add(at+"url", "something else", "an absolute address")
		}
	}
	return wrong
}

func isURI(s string) bool {
	u, err := url.Parse(s)
	return err == nil && u.IsAbs() && !strings.ContainsFunc(s, func(r rune) bool { return r <= ' ' || r > '~' })
}
