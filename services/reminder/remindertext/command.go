package remindertext

import (
	"strings"
	"unicode"
)

// Command is what somebody asks for by one word.
type Command int

// The commands.
const (
	None Command = iota // it is a message for a person to read
	Stop
	Start
	Help
)

// commands are the words, common practice between networks, no source; the
// German ones are what German-speaking readers write.
var commands = map[string]Command{
	"STOP": Stop, "STOPALL": Stop, "STOP ALL": Stop, "UNSUBSCRIBE": Stop, "CANCEL": Stop, "END": Stop, "QUIT": Stop,
	"STOPP": Stop,
	"START": Start, "UNSTOP": Start,
	"HELP": Help, "INFO": Help, "HILFE": Help,
}

// CommandOf reads a command that stands alone in a message, in capitals or
// not, with or without a full stop, quotation marks and the like around it.
func CommandOf(text string) Command { return commands[strings.ToUpper(Bare(text))] }

// Bare gives the words of a message in one line, as they were written, without
// what stands around them.
func Bare(text string) string {
	bare := strings.TrimFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return strings.Join(strings.Fields(bare), " ")
}
