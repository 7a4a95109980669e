package reminder

import (
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"halfshaft/services/vehicle"
)

// State says where a notice stands.
type State int

// The states. A notice begins Claimed and ends Sent, Parked or Silenced.
const (
	Claimed  State = iota + 1 // it will be sent
	Sent                      // the mail server took it
	Waiting                   // to be tried again
	Parked                    // refused for good, or tried long enough
	Silenced                  // the work was recorded, or the person left, first
	Rerouted                  // it failed, and its stages are told by another channel
)

// Notice is one message to one person about one vehicle, as it is kept.
type Notice struct {
	ID           string // "AM0147P.E01.2026-05-01.early.mail.p0031"
	Serial       vehicle.Serial
	Person       string // identifier: "p0031"
	Channel      Channel
	Stage        Stage
	Lines        []ToldLine
	State        State
	MessageID    string // with its angle brackets
	BodySHA256   [sha256.Size]byte
	Claimed      time.Time
	Printed      time.Time // when a letter was first printed; zero while it was not
	Sent         time.Time // zero unless sent
	Attempts     int
	NextAttempt  time.Time // zero: at once
	Retried      time.Time // when a person last took it up again; zero for never
	ServerAnswer string    // what the mail server said last, without addresses
	Purpose      Purpose   // 0 is Service: notices of before there were others
	Language     string    // BCP 47 tag
	Segments     int       // of a text message
	Returns      []Return  // what came back, the oldest first
	Reference    string    // what the return path and receipts carry in place of the identifier
}

// ReturnKind is what came back of a notice. Its numbers are those of the API's
// enumeration.
type ReturnKind int

// The kinds.
const (
	Failed    ReturnKind = iota + 1 // it never will be delivered
	GivenUp                         // not this time: a full mailbox, tried too long
	Delayed                         // under way still
	Relayed                         // went on into a system that reports nothing
	Delivered                       // it arrived
	Complaint                       // the recipient called it unwanted
	AutoReply                       // a machine answered for the recipient
	Reply                           // a person answered to the return path
)

// Return is something that came back.
type Return struct {
	Kind ReturnKind
	Time time.Time
	Text string // without addresses
}

// ToldLine is one item of a notice as it was told.
type ToldLine struct {
	ItemID, Cycle, Title string
	ActBy                vehicle.Date
	Sentence             string
	Stage                Stage
}

// NoticeID names a draft's notice after its leading line. A notice that was
// silenced before it can have arrived leaves its stages open, so the same name
// may be wanted again: nth counts from 1 and the first has no number.
//
// The word of another purpose than service stands before the stage:
// "AM0147P.YEAR.2026.year-letter-early.letter.p0031".
func (d Draft) NoticeID(nth int) string {
	stage := d.Stage.String()
	if word := d.Purpose.word(); word != "" {
		stage = word + "-" + stage
	}
	id := fmt.Sprintf("%s.%s.%s.%s.%s", d.Vehicle.Serial, d.Lines[0].Item.Cycle, stage, d.Channel, d.To.Person)
	if nth > 1 {
		id = fmt.Sprintf("%s.%d", id, nth)
	}
	return id
}

// SerialOf gives the serial that a notice's or a task's identifier begins
// with; false when it begins with none.
func SerialOf(id string) (vehicle.Serial, bool) {
	head, _, found := strings.Cut(id, ".")
	serial := vehicle.Serial(head)
	return serial, found && serial.Valid()
}

// Reference is what a mail's return path and a gateway's receipt carry in place
// of the notice's identifier, which names a vehicle and a person: the first 16
// bytes of its SHA-256 in lower-case base32 (RFC 4648 section 6) without
// padding, 26 characters.
func Reference(noticeID string) string {
	sum := sha256.Sum256([]byte(noticeID))
	return strings.ToLower(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(sum[:16]))
}

// MessageID gives the Message-ID of a notice, with its angle brackets. It is
// the same whenever it is asked for, so that a mailbox or a relay that saw the
// message can know it again (RFC 5322 section 3.6.4). The notice's identifier
// is hashed, for it names a vehicle and a person.
func MessageID(noticeID, domain string) string {
	sum := sha256.Sum256([]byte("halfshaft notice\n" + noticeID))
	return fmt.Sprintf("<%s@%s>", hex.EncodeToString(sum[:16]), domain)
}

// ToClaimed gives the notice that claims a draft. body is the rendered
// message.
func (d Draft) ToClaimed(id, messageID string, body []byte, now time.Time) Notice {
	n := Notice{
		ID: id, Serial: d.Vehicle.Serial, Person: d.To.Person, Channel: d.Channel, Stage: d.Stage,
		State: Claimed, MessageID: messageID, BodySHA256: sha256.Sum256(body), Claimed: now,
		Purpose: d.Purpose, Language: d.To.Language, Reference: Reference(id),
	}
	for _, l := range d.Lines {
		n.Lines = append(n.Lines, ToldLine{
			ItemID: l.Item.ID, Cycle: l.Item.Cycle, Title: l.Item.Title,
			ActBy: l.Item.ActBy, Sentence: l.Item.Sentence, Stage: l.Stage,
		})
	}
	return n
}

// Open reports whether the notice is still to be sent.
func (n Notice) Open() bool { return n.State == Claimed || n.State == Waiting }

// MayHaveArrived reports whether the recipient may have the message although
// it is not marked as sent: the process died, or the connection broke, after
// the message was handed over. Then only the same bytes may go out again. A
// letter may have arrived once it was printed: nobody hears when it is put into
// the post.
//
// A claimed notice that this process has just made cannot have arrived: the
// caller knows, and does not ask.
func (n Notice) MayHaveArrived() bool {
	if n.Channel == Letter && n.State != Sent {
		return !n.Printed.IsZero()
	}
	switch n.State {
	case Claimed, Sent:
		return true
	case Waiting:
		return n.ServerAnswer == "" || n.ServerAnswer == AnswerLost
	}
	return false
}

// AnswerLost stands in ServerAnswer when the whole message was handed over and
// no answer came.
const AnswerLost = "no answer after the message was handed over"
