// Package ownerstore keeps people, sealed, and their ties to vehicles.
//
// Keys in etcd, and nobody else's:
//
//	/halfshaft/v1/owner/people/<person>                halfshaft.owner.v1.Person, sealed under the person's key
//	/halfshaft/v1/owner/person-keys/<person>           the person's key, wrapped by the master key
//	/halfshaft/v1/owner/consents/<person>/<consent>    halfshaft.owner.v1.Consent, sealed likewise
//	/halfshaft/v1/owner/contact-changes/<person>/<change>  halfshaft.owner.v1.ContactChange, sealed likewise, until the address of before was told
//	/halfshaft/v1/owner/documents/<person>/<document>  halfshaft.owner.v1.Document, sealed likewise; the content is a file
//	/halfshaft/v1/owner/ties/<serial>/<tie>            halfshaft.owner.v1.Tie
//	/halfshaft/v1/owner/vehicles/<serial>              written with every tie of the vehicle, so that two cannot pass each other
//	/halfshaft/v1/owner/transfers/<serial>/<transfer>  halfshaft.owner.v1.Transfer
//	/halfshaft/v1/owner/codes/<serial>                 a keyed digest of the open offer's code, 32 bytes, then the transfer's identifier
//	/halfshaft/v1/owner/guesses/<0 to 1023>            how often codes were tried for vehicles that were not on offer, in digits
//	/halfshaft/v1/owner/standings/<serial>             halfshaft.owner.v1.Standing
//	/halfshaft/v1/owner/erasures/<person>              halfshaft.owner.v1.Erasure
//	/halfshaft/v1/owner/master-key                     the identifier of the master key, in hex
//	/halfshaft/v1/owner/master-key-change              while the master key is replaced: from which to which, as JSON
//
// Files beside etcd, all sealed but the first two, which are the secret:
//
//	<master key>                      see MasterKey
//	<master key>.next                 the one that takes its place, while it is replaced
//	<master key>.lock                 held (flock) by whoever starts over or replaces the two
//	people-keys-<identifier>.sealed   beside the master key of that identifier: see keptKeys
//	<documents>/<person>/<document>   a document, sealed under the person's key and named by a digest that the key made
//
// The key of a person stands apart from the record so that erasing the person
// can destroy it. That alone leaves the wrapped key in etcd's log and backups,
// so an erasure also replaces the master key and wraps the others anew: see
// Erase.
//
// People are held in memory as they are stored, sealed, and opened when asked
// for: some microseconds each, and no address lies about in memory.
package ownerstore

import (
	"context"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/feed"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/wholefile"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys and their request ids stand.
const Service = "owner"

var (
	prefix           = kv.Prefix(Service)
	peoplePrefix     = prefix + "people/"
	keysPrefix       = prefix + "person-keys/"
	consentsPrefix   = prefix + "consents/"
	changesPrefix    = prefix + "contact-changes/"
	documentsPrefix  = prefix + "documents/"
	tiesPrefix       = prefix + "ties/"
	vehiclesPrefix   = prefix + "vehicles/"
	transfersPrefix  = prefix + "transfers/"
	codesPrefix      = prefix + "codes/"
	guessesPrefix    = prefix + "guesses/"
	standingsPrefix  = prefix + "standings/"
	erasuresPrefix   = prefix + "erasures/"
	masterRecord     = prefix + "master-key"
	masterChangeMark = prefix + "master-key-change"
)

// Config says where the store, its master key and its files are.
type Config struct {
	Store         *kv.Store
	MasterKeyPath string
	Documents     string // directory of the sealed documents, made when needed; empty: none are kept
	Clock         func() time.Time
	Logger        *slog.Logger
}

// Store holds everything in memory, as etcd last told, and writes. It is safe
// for concurrent use.
type Store struct {
	kv       *kv.Store
	path     string // of the master key
	dir      string // of the documents
	clock    func() time.Time
	logger   *slog.Logger
	follower *projection.Follower
	hub      *feed.Hub[vehicle.Serial]

	// Whoever wraps or seals with the master key holds rotation for reading,
	// whoever replaces it for writing.
	rotation sync.RWMutex
	ring     keyring
	cut      func(after string) error // nil but in tests, which interrupt an erasure by it

	// What an erasure left to do is done behind the scenes: see goOn.
	unended chan struct{} // holds one note at most
	pause   func(context.Context, time.Duration) error
	end     context.CancelFunc
	working sync.WaitGroup

	mu      sync.RWMutex
	state   state
	ids     []string         // of people, sorted; nil when to be made anew
	serials []vehicle.Serial // with ties, sorted; likewise
}

// Open loads what is stored and follows it until ctx is done or Close is
// called. At the first start over a store it makes the master key if there is
// none at the path; later a missing or different one is refused, since nobody
// could be read with it. A replacement of the master key that was interrupted
// is carried to its end, and a store that was restored from before one is
// brought up to it: see unlock.
func Open(ctx context.Context, c Config) (*Store, error) { return openCut(ctx, c, nil) }

// openCut is Open with an interruption, for tests.
func openCut(ctx context.Context, c Config, cut func(after string) error) (*Store, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	s := &Store{
		kv: c.Store, path: c.MasterKeyPath, dir: c.Documents, clock: c.Clock, logger: c.Logger,
		hub: feed.NewHub[vehicle.Serial](), state: newState(), cut: cut, unended: make(chan struct{}, 1), pause: pauseFor,
	}
	err := wholefile.Sweep(s.dir)
	if err != nil {
		return nil, fmt.Errorf("clear away documents that were half written: %w", err)
	}
	life, end := context.WithCancel(ctx)
	s.end = end
	if s.follower, err = projection.Start(ctx, c.Store.Client(), prefix, s, c.Logger); err != nil {
		end()
		return nil, err
	}
	if err := s.unlock(ctx); err != nil {
		s.Close()
		return nil, err
	}
	s.working.Go(func() { s.goOn(life) })
	return s, nil
}

// Follow waits until memory holds what etcd holds now, for whoever decides again
// after somebody else wrote in between.
func (s *Store) Follow(ctx context.Context) error { return s.catchUp(ctx) }

// catchUp waits until memory holds what etcd holds now.
func (s *Store) catchUp(ctx context.Context) error {
	now, err := s.kv.Client().Get(ctx, masterRecord)
	if err != nil {
		return &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err}
	}
	return s.follower.Wait(ctx, now.Header.Revision)
}

// commit writes and waits for memory to have it.
func (s *Store) commit(ctx context.Context, txn *kv.Txn) error {
	done, err := s.kv.Commit(ctx, txn)
	if err != nil {
		return err
	}
	return s.follower.Wait(ctx, done.Revision)
}

// sorted gives the keys of a map in order.
func sorted[K ~string, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }

// PersonIDs gives the identifiers of all people, sorted. The list is shared:
// do not change it.
func (s *Store) PersonIDs() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ids == nil {
		s.ids = sorted(s.state.people)
	}
	return s.ids
}

// Serials gives all vehicles that have or had ties, sorted. The list is
// shared: do not change it.
func (s *Store) Serials() []vehicle.Serial {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.serials == nil {
		s.serials = sorted(s.state.ties)
	}
	return s.serials
}

// Subscribe begins to tell the vehicles whose ties or standings change.
func (s *Store) Subscribe() *feed.Subscription[vehicle.Serial] { return s.hub.Subscribe() }

// Revision gives up to where memory is known to be whole.
func (s *Store) Revision() int64 { return s.follower.Revision() }

// Follower is what waits for memory to reach a revision.
func (s *Store) Follower() *projection.Follower { return s.follower }

// Close ends the following.
func (s *Store) Close() {
	s.end()
	s.working.Wait()
	s.follower.Close()
}
