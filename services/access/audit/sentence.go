package audit

import (
	"fmt"
	"strings"
	"sync"
	"unicode"

	"halfshaft/services/access"
	"halfshaft/services/vehicle"
)

// done is the table of sentences, made once.
var done = sync.OnceValue(sentences)

// Sentence tells a line to people: "Amended by front desk on 3 March 2026,
// because …".
func Sentence(l Line) string {
	var b strings.Builder
	switch l.Outcome {
	case Refused:
		fmt.Fprintf(&b, "%s refused to %s on %s", call(l.Method), who(l), when(l))
	case Failed:
		fmt.Fprintf(&b, "%s by %s failed on %s, and may have changed something", call(l.Method), who(l), when(l))
	case Read:
		fmt.Fprintf(&b, "Read by %s on %s (%s)", who(l), when(l), words(l.Method))
	case Unchanged:
		fmt.Fprintf(&b, "%s by %s on %s, which changed nothing", call(l.Method), who(l), when(l))
	default:
		fmt.Fprintf(&b, "%s by %s on %s", what(l.Method), who(l), when(l))
	}
	if len(l.Fields) > 0 {
		b.WriteString(" (" + strings.Join(l.Fields, ", ") + ")")
	}
	if l.ErrorReason != "" {
		b.WriteString(" (" + l.ErrorReason + ")")
	}
	if l.Count > 1 {
		fmt.Fprintf(&b, ", %d times", l.Count)
	}
	if because := strings.TrimRight(strings.TrimSpace(l.Because), "."); because != "" {
		b.WriteString(", because " + because)
	}
	b.WriteString(".")
	return b.String()
}

// what says what a method did, from the table or from its name.
func what(method string) string {
	if text, ok := done()[method]; ok {
		return text
	}
	return "Called " + words(method)
}

// call names a method as a thing that was asked for.
func call(method string) string { return "Call to " + words(method) }

// words gives the words of a method's name: "amend build".
func words(method string) string {
	name := method[strings.LastIndexByte(method, '/')+1:]
	if name == "" {
		return "something"
	}
	var b strings.Builder
	for i, r := range name {
		if unicode.IsUpper(r) && i > 0 {
			b.WriteByte(' ')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// itself is the bearer of a process that calls its own services for somebody,
// which is how most come in.
const itself = "halfshaft"

// who names the one who acted, and the service through which.
func who(l Line) string {
	name := l.Actor
	switch {
	case name == "" && l.Role == access.Nobody:
		name = "somebody unknown"
	case name == "":
		name = l.Role.String()
	}
	if l.Party != "" && l.Role != access.Dealer {
		name += " " + l.Party
	} else if l.Party != "" {
		name += " of " + l.Party
	}
	if l.Through != "" && l.Through != itself {
		name += " through " + l.Through
	}
	return name
}

// when tells the day in UTC.
func when(l Line) string { return vehicle.DateOf(l.Time.UTC()).Long() }
