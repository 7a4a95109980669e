// Package links makes and reads the signed links that stand in messages.
//
// A link's token says what it is for, about whom, and until when, and is
// authenticated with HMAC-SHA-256 (RFC 2104) under a key that only the works
// has. Whoever holds a link may do that one thing, and go on to what On says. The
// subject is visible to whoever decodes the token, so it holds identifiers
// that say nothing of a person, never an address or a name.
package links

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Purpose is the one thing that a link lets its holder do.
type Purpose byte

// The purposes. Their numbers stand in mails already sent: never change one.
const (
	// Odometer reports what the dial shows.
	Odometer Purpose = 'o'
	// Unsubscribe stops service notices about one vehicle.
	Unsubscribe Purpose = 'u'
	// Schedule shows the vehicle: what is due on it and why, and the ways on.
	Schedule Purpose = 's'
	// Booked says that a workshop has it on a day.
	Booked Purpose = 'b'
	// Snooze puts the work of one notice off to a day.
	Snooze Purpose = 'z'
	// Done says that the work of one notice is done.
	Done Purpose = 'd'
	// Transfer asks for a link that gives the vehicle to a new owner.
	Transfer Purpose = 't'
	// StopYearLetter stops the letter at the year's end about one vehicle.
	StopYearLetter Purpose = 'y'
	// Calendar makes the address of a calendar of the vehicle.
	Calendar Purpose = 'c'
	// Handbook shows the handbook of the vehicle and gives its files.
	Handbook Purpose = 'h'
	// History shows what was done on the vehicle.
	History Purpose = 'w'
	// People says how its reader is written to, and changes that.
	People Purpose = 'p'
	// GiveAway makes the code with which a new owner takes the vehicle over.
	GiveAway Purpose = 'g'
	// Move changes the addresses to which its reader is written.
	Move Purpose = 'm'
)

// Lasts is for how long a link of the purpose works after the message that it
// stands in was written: whoever sells a vehicle does so soon, and whoever wants
// no more messages may take their time. The others last over a season, so that a
// visit can be booked and the work be done. What only the reader of the address on
// record may do works for as long as somebody needs who asked for it just now,
// behind a mail server that lets strangers wait, too.
func (p Purpose) Lasts() time.Duration {
	const day = 24 * time.Hour
	switch p {
	case Transfer:
		return 30 * day
	case GiveAway, Move:
		return 2 * time.Hour
	case Unsubscribe, StopYearLetter:
		return 2 * 365 * day
	}
	return 120 * day
}

// rooms are the pages of the navigation: each leads to each.
var rooms = []Purpose{Schedule, Odometer, History, Handbook, People}

// leads are the purposes that the pages of each purpose may lead on to, beside
// the rooms. What a message's links open is to be had with any of them but those
// that stop messages, for the others stand in it together; whoever it was
// forwarded to has them all. A link that stops messages leads nowhere: mail
// programs show it to others, and it works for years. Nothing leads to GiveAway
// and Move: these stand in no message that is forwarded, for a message with one of
// them holds nothing else, is sent when its reader has asked for it, and works once
// and for two hours.
var leads = map[Purpose][]Purpose{
	Schedule: {Booked, Snooze, Done, Calendar, Unsubscribe},
	Odometer: nil,
	Booked:   nil,
	Snooze:   nil,
	Done:     nil,
	Transfer: nil,
	Calendar: nil,
	History:  nil,
	Handbook: nil,
	People:   {Calendar, Unsubscribe},
}

// On gives the link of another purpose to which a page that l opened may lead:
// about the same, and living as long as l or as links of that purpose do from
// now, whichever ends first. It is false where it may lead to none.
func (l Link) On(to Purpose, now time.Time) (Link, bool) {
	beside, leading := leads[l.Purpose]
	if !leading || !slices.Contains(rooms, to) && !slices.Contains(beside, to) || !now.Before(l.Expires) {
		return Link{}, false
	}
	expires := now.Add(to.Lasts())
	if l.Expires.Before(expires) {
		expires = l.Expires
	}
	return Link{Purpose: to, Subject: l.Subject, Expires: expires}, true
}

// Link is what a token says.
type Link struct {
	Purpose Purpose
	Subject string    // at most 200 bytes
	Expires time.Time // to the second
}

// The errors of Read.
var (
	// ErrForged says that the token was not made here, or was damaged.
	ErrForged = errors.New("not a link of this works")
	// ErrExpired says that the token is genuine and its time is over. The link
	// is given too.
	ErrExpired = errors.New("the link's time is over")
)

// Key signs links. ID tells keys apart while one takes over from another.
type Key struct {
	ID     uint32
	Secret []byte // KeySize random bytes
}

// KeySize is the length of a key's secret: as long as the hash (RFC 2104
// section 3).
const KeySize = sha256.Size

// Ring signs with its first key and accepts links of all.
type Ring []Key

// A token is base64url of: version, key id, purpose, nonce, expiry in Unix
// seconds, subject, and the MAC over all before it.
const (
	version   = 1
	nonceSize = 9
	headSize  = 1 + 4 + 1 + nonceSize + 8
	macSize   = 16 // HMAC-SHA-256 cut to its left half, as RFC 2104 section 5 allows
	most      = 200
)

// ErrSubject says that a subject is empty or too long.
var ErrSubject = errors.New("a link's subject has 1 to 200 bytes")

// ErrNoKey says that the ring is empty.
var ErrNoKey = errors.New("no key to sign links with")

// Nonce makes two links of one subject differ.
type Nonce [nonceSize]byte

// Token signs a link. The same link with the same nonce gives the same token.
func (r Ring) Token(l Link, nonce Nonce) (string, error) {
	if len(r) == 0 {
		return "", ErrNoKey
	}
	if l.Subject == "" || len(l.Subject) > most {
		return "", ErrSubject
	}
	b := make([]byte, 0, headSize+len(l.Subject)+macSize)
	b = append(b, version)
	b = binary.BigEndian.AppendUint32(b, r[0].ID)
	b = append(b, byte(l.Purpose))
	b = append(b, nonce[:]...)
	b = binary.BigEndian.AppendUint64(b, uint64(l.Expires.Unix()))
	b = append(b, l.Subject...)
	b = append(b, r[0].mac(b)...)
	return base64.RawURLEncoding.EncodeToString(b), nil
}

func (k Key) mac(signed []byte) []byte {
	h := hmac.New(sha256.New, k.Secret)
	h.Write(signed)
	return h.Sum(nil)[:macSize]
}

// Read checks a token at a moment. Everything wrong with it is ErrForged but
// its age.
func (r Ring) Read(token string, now time.Time) (Link, error) {
	b, err := base64.RawURLEncoding.Strict().DecodeString(token)
	// The decoder passes line ends over; a token has none.
	if err != nil || strings.ContainsAny(token, "\r\n") || len(b) <= headSize+macSize || len(b) > headSize+most+macSize || b[0] != version {
		return Link{}, ErrForged
	}
	signed, mac := b[:len(b)-macSize], b[len(b)-macSize:]
	id := binary.BigEndian.Uint32(signed[1:5])
	genuine := false
	for _, k := range r {
		genuine = genuine || k.ID == id && hmac.Equal(mac, k.mac(signed))
	}
	if !genuine {
		return Link{}, ErrForged
	}
	l := Link{
		Purpose: Purpose(signed[5]),
		Subject: string(signed[headSize:]),
		Expires: time.Unix(int64(binary.BigEndian.Uint64(signed[headSize-8:headSize])), 0).UTC(),
	}
	if !now.Before(l.Expires) {
		return l, ErrExpired
	}
	return l, nil
}

// Target is what a link is about. Nothing in it says who somebody is.
type Target struct {
	Serial string // of the vehicle: "AM0147P"
	Person string // identifier of the person it was sent to: "p0031"
	Epoch  int    // links of a lower number than the person's have been withdrawn
	Notice string // identifier of the notice it stands in without the serial in front; "" for none
}

// Subject is the target as a link carries it. Serial and person hold no point.
func (t Target) Subject() string {
	if t.Epoch == 0 && t.Notice == "" {
		return t.Serial + "." + t.Person
	}
	return t.Serial + "." + t.Person + "." + strconv.Itoa(t.Epoch) + "." + t.Notice
}

// Target takes apart what Subject joined, and nothing else.
func (l Link) Target() (Target, bool) {
	var t Target
	switch parts := strings.SplitN(l.Subject, ".", 4); len(parts) {
	case 2:
		t = Target{Serial: parts[0], Person: parts[1]}
	case 4:
		epoch, err := strconv.Atoi(parts[2])
		if err != nil || epoch < 0 {
			return Target{}, false
		}
		t = Target{Serial: parts[0], Person: parts[1], Epoch: epoch, Notice: parts[3]}
	}
	return t, t.Serial != "" && t.Person != "" && t.Subject() == l.Subject
}
