package reminderreturn

import (
	"regexp"
	"strings"

	"halfshaft/services/reminder"
)

// Short names of the kinds.
const (
	failed    = reminder.Failed
	givenUp   = reminder.GivenUp
	delayed   = reminder.Delayed
	relayed   = reminder.Relayed
	delivered = reminder.Delivered
	complaint = reminder.Complaint
	autoReply = reminder.AutoReply
	reply     = reminder.Reply
)

// excuses are the permanent failures (5.x.x) that say nothing against the
// address: the next message may arrive, or would, were it another one. All
// meanings are those of RFC 3463 sections 3.2 to 3.8.
var excuses = []string{
	"5.1.7", "5.1.8", // the sender's address or system is bad: ours
	"5.2.2", // mailbox full
	"5.2.3", // the message is longer than the recipient's limit
	"5.3.4", // the message is too big for the system
	"5.4.5", // network congestion, which passes
	"5.4.7", // delivery time expired
	"5.5.",  // the two systems did not understand each other
	"5.6.",  // content that cannot be converted
	"5.7.",  // security or policy: taken for unwanted mail, a list of blocked senders
}

// undefined is what RFC 3463 section 3.1 gives for errors of which only the
// class is known; then the reply code of SMTP says more.
const undefined = "5.0.0"

// deadReplies are the reply codes that are about the address: RFC 5321 section
// 4.2.3 (550 mailbox unavailable, 551 user not local, 553 mailbox name not
// allowed) and RFC 7504 (521 and 556, no mail there at all). Not 552, storage
// exceeded, and not 554, transaction failed.
var deadReplies = []string{"550", "551", "553", "521", "556"}

var (
	statusCode = regexp.MustCompile(`(?:^|[^0-9.])([245]\.[0-9]{1,3}\.[0-9]{1,3})(?:$|[^0-9.])`)
	replyCode  = regexp.MustCompile(`^[^0-9]{0,20}([245][0-9][0-9])(?:$|[ -])`)
)

// statusIn gives the first status code in a text; "" for none.
func statusIn(text string) string {
	if found := statusCode.FindStringSubmatch(text); found != nil {
		return found[1]
	}
	return ""
}

func replyIn(text string) string {
	if found := replyCode.FindStringSubmatch(text); found != nil {
		return found[1]
	}
	return ""
}

// exactStatus gives the status of a delivery: the one told, unless the server's
// own words hold a more exact one of the same class.
func exactStatus(told, diagnostic string) string {
	words := statusIn(diagnostic)
	switch {
	case told == "" && words == "" && replyIn(diagnostic) != "":
		return replyIn(diagnostic)[:1] + ".0.0"
	case told == "":
		return words
	case strings.HasSuffix(told, ".0.0") && words != "" && words[0] == told[0]:
		return words
	}
	return told
}

// kindOf gives the kind of an outcome by its action (RFC 3464 section 2.3.3).
// An action that nobody knows is read by the class of its status (RFC 3463
// section 2).
func kindOf(action, status, diagnostic string) (reminder.ReturnKind, bool) {
	class := ""
	if status != "" {
		class = status[:1]
	}
	switch {
	case action == "delivered":
		return delivered, true
	case action == "relayed" || action == "expanded": // into many addresses, of which we hear nothing
		return relayed, true
	case action == "delayed":
		return delayed, true
	case action == "failed" || class == "5":
		return failure(status, diagnostic), true
	case class == "4":
		return delayed, true
	case class == "2":
		return delivered, true
	}
	return 0, false
}

// OfRefusal tells what a mail server's refusal of a recipient was about, by its
// words ("550 5.1.1 no such user"): Failed for a dead address, else GivenUp. Only
// a status about the address or its mailbox (RFC 3463 sections 3.2 and 3.3)
// proves anything. A bare 550 also stands for a policy (RFC 5321 section 4.2.3),
// such as that of our own server to pass on nobody's mail.
func OfRefusal(words string) reminder.ReturnKind {
	status := statusIn(words)
	if !strings.HasPrefix(status, "5.1.") && !strings.HasPrefix(status, "5.2.") {
		return givenUp
	}
	return failure(status, words)
}

// failure tells a dead address from a message that was given up. 4.x.x with a
// failure is a persistent transient one, which was tried long enough (RFC 3463
// section 2); without a status nobody knows what it was.
func failure(status, diagnostic string) reminder.ReturnKind {
	if !strings.HasPrefix(status, "5.") {
		return givenUp
	}
	for _, excuse := range excuses {
		if status == excuse || strings.HasSuffix(excuse, ".") && strings.HasPrefix(status, excuse) {
			return givenUp
		}
	}
	if code := replyIn(diagnostic); status == undefined && strings.HasPrefix(code, "5") {
		for _, dead := range deadReplies {
			if code == dead {
				return failed
			}
		}
		return givenUp
	}
	return failed
}
