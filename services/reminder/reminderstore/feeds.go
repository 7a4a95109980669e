package reminderstore

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"

	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Feed is one person's calendar of one vehicle, as it is kept.
type Feed struct {
	*reminderv1.KeptFeed
	Serial   vehicle.Serial
	Person   string
	Revision int64
}

func feedKey(serial vehicle.Serial, person string) string {
	return feedsPrefix + string(serial) + "/" + person
}

func addressKey(digest []byte) string { return addressesPrefix + hex.EncodeToString(digest) }

func eventsKey(serial vehicle.Serial, person string) string {
	return eventsPrefix + string(serial) + "/" + person
}

// Feed gives the feed of a person and a vehicle; false when there is none.
func (s *Store) Feed(ctx context.Context, serial vehicle.Serial, person string) (Feed, bool, error) {
	f := Feed{KeptFeed: &reminderv1.KeptFeed{}, Serial: serial, Person: person}
	var found bool
	var err error
	f.Revision, found, err = s.kv.Get(ctx, feedKey(serial, person), f.KeptFeed)
	return f, found, err
}

// CreateFeed keeps a feed under the digest of its secret. An earlier address of
// the person and the vehicle is dead from then on. For a request that was
// answered before it gives the feed of then, and true.
func (s *Store) CreateFeed(ctx context.Context, q Request, serial vehicle.Serial, person string, feed *reminderv1.CalendarFeed, digest [sha256.Size]byte) (*reminderv1.CalendarFeed, bool, error) {
	var answered reminderv1.CalendarFeed
	if found, err := s.replayed(ctx, q, &answered); err != nil || found {
		return &answered, true, err
	}
	old, found, err := s.Feed(ctx, serial, person)
	if err != nil {
		return nil, false, err
	}
	key := feedKey(serial, person)
	t := kv.NewTxn().Unchanged(key, old.Revision).Absent(addressKey(digest[:])).
		Put(key, &reminderv1.KeptFeed{CalendarFeed: feed, SecretSha256: digest[:]}).
		Put(addressKey(digest[:]), &reminderv1.CalendarFeed{Name: feed.GetName()}).
		Once(service, q.ID, q.Payload, feed)
	if found {
		t.Delete(addressKey(old.GetSecretSha256()))
	}
	r, err := s.kv.Commit(ctx, t)
	if err != nil || !r.Replayed {
		return feed, false, err
	}
	return &answered, true, proto.Unmarshal(r.Answer, &answered)
}

// NoFeed is the refusal of a feed that is not there.
func NoFeed(serial vehicle.Serial, person string) error {
	return fault.New(fault.NotFound, "CALENDAR_FEED_NOT_FOUND", "There is no calendar feed %s of %s here.", person, serial)
}

// EndFeed makes the address of a feed dead. Without a feed it is NotFound.
func (s *Store) EndFeed(ctx context.Context, q Request, serial vehicle.Serial, person string) error {
	if found, err := s.replayed(ctx, q, &reminderv1.EndCalendarFeedResponse{}); err != nil || found {
		return err
	}
	old, found, err := s.Feed(ctx, serial, person)
	if err != nil {
		return err
	}
	if !found {
		return NoFeed(serial, person)
	}
	// What it held stays: the numbers of changes must not begin anew when the
	// person has an address again.
	key := feedKey(serial, person)
	_, err = s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, old.Revision).Delete(key).Delete(addressKey(old.GetSecretSha256())).
		Once(service, q.ID, q.Payload, &reminderv1.EndCalendarFeedResponse{}))
	return err
}

// FeedAt gives the feed whose secret has the digest; false when there is none.
func (s *Store) FeedAt(ctx context.Context, digest [sha256.Size]byte) (Feed, bool, error) {
	var at reminderv1.CalendarFeed
	_, found, err := s.kv.Get(ctx, addressKey(digest[:]), &at)
	if err != nil || !found {
		return Feed{}, false, err
	}
	serial, person, err := reminderwire.FeedOf("name", at.GetName())
	if err != nil {
		return Feed{}, false, err
	}
	f, found, err := s.Feed(ctx, serial, person)
	return f, found && subtle.ConstantTimeCompare(f.GetSecretSha256(), digest[:]) == 1, err
}

// MarkRead remembers the day on which a feed was last asked for. When somebody
// changed the feed meanwhile nothing is written: it is no more than a hint.
func (s *Store) MarkRead(ctx context.Context, f Feed, day vehicle.Date) error {
	at, err := vehiclewire.Date(f.GetCalendarFeed().GetLastReadDate())
	if err == nil && !at.Before(day) {
		return nil
	}
	changed := proto.CloneOf(f.KeptFeed)
	changed.CalendarFeed.LastReadDate = vehiclewire.DateProto(day)
	key := feedKey(f.Serial, f.Person)
	_, err = s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, f.Revision).Put(key, changed))
	if fault.Is(err, fault.Aborted) {
		return nil
	}
	return err
}

// Feeds gives up to limit feeds in order of name and after one: of one vehicle,
// or of all for an empty serial.
func (s *Store) Feeds(ctx context.Context, serial vehicle.Serial, after string, limit int) ([]*reminderv1.CalendarFeed, error) {
	under := feedsPrefix
	if serial != "" {
		under += string(serial) + "/"
	}
	from := under
	if of, person, err := reminderwire.FeedOf("name", after); err == nil {
		from = max(from, feedKey(of, person)+"\x00")
	}
	var out []*reminderv1.CalendarFeed
	err := s.pages(ctx, from, under, func(value []byte, _ int64) (bool, error) {
		var k reminderv1.KeptFeed
		if err := proto.Unmarshal(value, &k); err != nil {
			return false, err
		}
		out = append(out, k.GetCalendarFeed())
		return len(out) < limit, nil
	})
	return out, err
}

// Calendar gives what a person's calendar of a vehicle held when it was last
// read, and its revision: empty and 0 when it never was.
func (s *Store) Calendar(ctx context.Context, serial vehicle.Serial, person string) (*reminderv1.KeptCalendar, int64, error) {
	var c reminderv1.KeptCalendar
	revision, _, err := s.kv.Get(ctx, eventsKey(serial, person), &c)
	return &c, revision, err
}

// PutCalendar keeps what a calendar holds now, if it is still at the revision;
// Aborted means that somebody else read it meanwhile.
func (s *Store) PutCalendar(ctx context.Context, serial vehicle.Serial, person string, c *reminderv1.KeptCalendar, at int64) error {
	key := eventsKey(serial, person)
	_, err := s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, at).Put(key, c))
	return err
}
