package owner

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// TransferState says where a transfer stands. Its numbers are those of the
// API's enumeration.
type TransferState uint8

// The states.
const (
	NoState   TransferState = iota
	Offered                 // the code is out and was not used
	Done                    // the vehicle has its new owner
	CalledOff               // by somebody, by a later offer, or by too many wrong codes
	Expired                 // the code's time is over; never stored, see AsOf
)

// Transfer is a change of owner.
type Transfer struct {
	Serial     vehicle.Serial
	ID         string
	State      TransferState
	OfferedBy  string // identifier of the person; empty when the works recorded it
	NewOwner   string // identifier; empty until it is done, or where nobody knows them
	Date       vehicle.Date
	Evidence   string
	Created    time.Time
	Expires    time.Time // zero for one that the works recorded
	Ended      time.Time
	WrongCodes int
	RecordedBy string
}

const (
	// OfferLasts is how long a code works.
	OfferLasts = 30 * 24 * time.Hour
	// MostWrongCodes is with how many an offer is dead. A code is 60 bits, so that
	// even thousands of tries would not find one; and whoever knows a serial can
	// end an offer by as many, so that it is not few.
	MostWrongCodes = 20

	maxEvidence = 500 // characters
)

// AsOf gives the transfer as it reads at a moment: an offer whose time is over
// has expired, without anybody writing it down.
func (t Transfer) AsOf(now time.Time) Transfer {
	if t.State == Offered && !now.Before(t.Expires) {
		t.State, t.Ended = Expired, t.Expires
	}
	return t
}

// Open reports whether the offer's code works at a moment.
func (t Transfer) Open(now time.Time) bool { return t.AsOf(now).State == Offered }

// WrongCode gives the offer as it reads after one more wrong code.
func (t Transfer) WrongCode(now time.Time) Transfer {
	if t.WrongCodes++; t.WrongCodes >= MostWrongCodes {
		t.State, t.Ended = CalledOff, now
	}
	return t
}

// Closed gives the offer as it reads once it is called off; one that is over
// is refused.
func (t Transfer) Closed(now time.Time) (Transfer, error) {
	if !t.Open(now) {
		return Transfer{}, fault.New(fault.FailedPrecondition, "TRANSFER_CLOSED", "This transfer is done, called off or expired already.")
	}
	t.State, t.Ended = CalledOff, now
	return t, nil
}

// CheckEvidence refuses evidence that says nothing or does not fit a line.
func CheckEvidence(text string) []fault.Field {
	if text == "" || !oneLine(text, maxEvidence) {
		return []fault.Field{{Name: "evidence", Got: Described(text),
			Want: "what the works saw and where it is kept, without names, 1 to " + fault.Characters(maxEvidence) + " on one line"}}
	}
	return nil
}

// OrderTransfers sorts transfers of one vehicle, the oldest first.
func OrderTransfers(a, b Transfer) int {
	return cmp.Or(a.Created.Compare(b.Created), cmp.Compare(a.ID, b.ID))
}

// The letters of a code: 32, so that a letter is five bits, without 0 and O,
// 1 and I, which are taken for each other. Twelve are 60 bits.
const (
	codeLetters = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
	codeLength  = 12
	codeGroup   = 4
)

// NewCode draws a one-time code, in three groups: "7Q4K-M2XW-9TRC".
func NewCode(random io.Reader) (string, error) {
	var raw [codeLength]byte
	if _, err := io.ReadFull(random, raw[:]); err != nil {
		return "", fmt.Errorf("draw a code: %w", err)
	}
	var b strings.Builder
	for i, r := range raw {
		if i > 0 && i%codeGroup == 0 {
			b.WriteByte('-')
		}
		b.WriteByte(codeLetters[r%byte(len(codeLetters))]) // 32 divides 256: each as likely
	}
	return b.String(), nil
}

// PlainCode gives a code as it is compared: in capitals, without hyphens and
// blanks. false when it cannot be a code at all.
func PlainCode(text string) (string, bool) {
	if len(text) > 4*codeLength {
		return "", false
	}
	plain := strings.Map(func(r rune) rune {
		if r == '-' || r == ' ' || r == '\u00a0' {
			return -1
		}
		return r
	}, strings.ToUpper(strings.TrimSpace(text)))
	if len(plain) != codeLength || strings.Trim(plain, codeLetters) != "" {
		return "", false
	}
	return plain, true
}
