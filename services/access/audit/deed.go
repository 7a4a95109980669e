package audit

import (
	"strings"

	"halfshaft/services/wording"
)

// things are what people call the objects of a line.
var things = map[string]string{
	"accounts": "account", "people": "person", "vehicles": "vehicle", "builds": "vehicle", "keys": "key",
	"organisations": "organisation", "sessions": "session",
}

// Deed tells what a line says was done, without who, when and why: "Password
// changed", "Sessions of the account bert read", "Tried to sign in".
func Deed(l Line) string {
	switch l.Outcome {
	case Refused, Failed:
		return "Tried to " + words(l.Method)
	case Read:
		return readThing(l)
	}
	text := what(l.Method)
	if len(l.Fields) > 0 {
		text += " (" + strings.ReplaceAll(strings.Join(l.Fields, ", "), "_", " ") + ")"
	}
	return text
}

// readThing names what was read: the method's words without their verb.
func readThing(l Line) string {
	verb, thing, found := strings.Cut(words(l.Method), " ")
	if !found {
		thing = verb
	}
	text := wording.UpperFirst(thing)
	if len(l.Objects) > 0 {
		head, id, _ := strings.Cut(l.Objects[0], "/")
		switch kind := things[head]; {
		case id == "" || id == "-":
		case kind == thing:
			text += " " + id
		case kind != "":
			text += " of the " + kind + " " + id
		default:
			text += " of " + l.Objects[0]
		}
	}
	return text + " read"
}
