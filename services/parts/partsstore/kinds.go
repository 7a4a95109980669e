package partsstore

import (
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partswire"
)

// record is what every kind of record can do.
type record[R any] interface {
	*R
	Key() string
	Validate() []fault.Field
	Stamped() *parts.Stamp
}

// kind is one kind of record: how it is read, written and taken into a
// catalogue. R is its value, M its message.
type kind[R any, P record[R], M proto.Message] struct {
	prefix     string // of its keys
	collection string // of its names: "parts"
	blank      func() M
	read       func(M) (R, error)
	write      func(P) M // without its etag
	get        func(*parts.Catalogue, string) P
	all        func(*parts.Catalogue, func(P) bool)
	put        func(*parts.Catalogue, R)
	remove     func(*parts.Catalogue, string)
}

// The kinds, in the order in which they are loaded.
var (
	partKind = kind[parts.Part, *parts.Part, *partsv1.Part]{
		partPrefix, "parts", blank[partsv1.Part], partswire.Part, partswire.PartProto,
		(*parts.Catalogue).Part, func(c *parts.Catalogue, f func(*parts.Part) bool) { c.Parts()(f) },
		(*parts.Catalogue).Put, (*parts.Catalogue).Remove,
	}
	supersessionKind = kind[parts.Supersession, *parts.Supersession, *partsv1.Supersession]{
		supersessionPrefix, "supersessions", blank[partsv1.Supersession], partswire.Supersession, partswire.SupersessionProto,
		(*parts.Catalogue).Supersession, func(c *parts.Catalogue, f func(*parts.Supersession) bool) { c.Supersessions()(f) },
		(*parts.Catalogue).PutSupersession, (*parts.Catalogue).RemoveSupersession,
	}
	positionKind = kind[parts.Position, *parts.Position, *partsv1.Position]{
		positionPrefix, "positions", blank[partsv1.Position], partswire.Position, partswire.PositionProto,
		func(c *parts.Catalogue, id string) *parts.Position { return c.Positions().Get(id) },
		func(c *parts.Catalogue, f func(*parts.Position) bool) { c.Positions().All()(f) },
		(*parts.Catalogue).PutPosition, (*parts.Catalogue).RemovePosition,
	}
	applicationKind = kind[parts.Application, *parts.Application, *partsv1.Application]{
		applicationPrefix, "applications", blank[partsv1.Application], partswire.Application, partswire.ApplicationProto,
		func(c *parts.Catalogue, id string) *parts.Application { return c.Applications().Get(id) },
		func(c *parts.Catalogue, f func(*parts.Application) bool) { c.Applications().All()(f) },
		(*parts.Catalogue).PutApplication, (*parts.Catalogue).RemoveApplication,
	}
	settingKind = kind[parts.Setting, *parts.Setting, *partsv1.Setting]{
		settingPrefix, "settings", blank[partsv1.Setting], partswire.Setting, partswire.SettingProto,
		func(c *parts.Catalogue, id string) *parts.Setting { return c.Settings().Get(id) },
		func(c *parts.Catalogue, f func(*parts.Setting) bool) { c.Settings().All()(f) },
		(*parts.Catalogue).PutSetting, (*parts.Catalogue).RemoveSetting,
	}
	capacityKind = kind[parts.Capacity, *parts.Capacity, *partsv1.Capacity]{
		capacityPrefix, "capacities", blank[partsv1.Capacity], partswire.Capacity, partswire.CapacityProto,
		func(c *parts.Catalogue, id string) *parts.Capacity { return c.Capacities().Get(id) },
		func(c *parts.Catalogue, f func(*parts.Capacity) bool) { c.Capacities().All()(f) },
		(*parts.Catalogue).PutCapacity, (*parts.Catalogue).RemoveCapacity,
	}
	kinds = []anyKind{&partKind, &supersessionKind, &positionKind, &applicationKind, &settingKind, &capacityKind}
)

func blank[M any]() *M { return new(M) }

// anyKind is a kind whatever its types.
type anyKind interface {
	apply(c *parts.Catalogue, e projection.Event) (mine bool, err error)
	known(c *parts.Catalogue, yield func(string, int64) bool) bool
	copy(from, to *parts.Catalogue)
}

// apply takes an event into a catalogue; false when its key is of another
// kind.
func (k *kind[R, P, M]) apply(c *parts.Catalogue, e projection.Event) (bool, error) {
	id, ok := strings.CutPrefix(e.Key, k.prefix)
	switch {
	case !ok:
		return false, nil
	case e.Deleted:
		k.remove(c, id)
		return true, nil
	}
	m := k.blank()
	if err := proto.Unmarshal(e.Value, m); err != nil {
		return true, fmt.Errorf("the record %s/%s cannot be read: %w", k.collection, id, err)
	}
	setText(m, "name", k.collection+"/"+id)
	r, err := k.read(m)
	if err != nil {
		return true, fmt.Errorf("the record %s/%s cannot be read: %w", k.collection, id, err)
	}
	P(&r).Stamped().Revision = e.ModRevision
	k.put(c, r)
	return true, nil
}

// known gives every key of the kind with its revision; false when yield wants
// no more.
func (k *kind[R, P, M]) known(c *parts.Catalogue, yield func(string, int64) bool) bool {
	more := true
	k.all(c, func(r P) bool {
		more = yield(k.prefix+r.Key(), r.Stamped().Revision)
		return more
	})
	return more
}

func (k *kind[R, P, M]) copy(from, to *parts.Catalogue) {
	k.all(from, func(r P) bool {
		k.put(to, *r)
		return true
	})
}

// proto writes a record of the store with its etag.
func (k *kind[R, P, M]) proto(r P) M {
	m := k.write(r)
	setText(m, "etag", kv.Etag(r.Stamped().Revision))
	return m
}

// setText sets a field that every resource has.
func setText(m proto.Message, field protoreflect.Name, text string) {
	f := m.ProtoReflect()
	f.Set(f.Descriptor().Fields().ByName(field), protoreflect.ValueOfString(text))
}

// PartProto writes a part of the store with its etag.
func PartProto(p *parts.Part) *partsv1.Part { return partKind.proto(p) }

// SupersessionProto writes a supersession of the store with its etag.
func SupersessionProto(s *parts.Supersession) *partsv1.Supersession { return supersessionKind.proto(s) }

// PositionProto writes a position of the store with its etag.
func PositionProto(p *parts.Position) *partsv1.Position { return positionKind.proto(p) }

// ApplicationProto writes an application of the store with its etag.
func ApplicationProto(a *parts.Application) *partsv1.Application { return applicationKind.proto(a) }

// SettingProto writes a setting of the store with its etag.
func SettingProto(s *parts.Setting) *partsv1.Setting { return settingKind.proto(s) }

// CapacityProto writes a capacity of the store with its etag.
func CapacityProto(c *parts.Capacity) *partsv1.Capacity { return capacityKind.proto(c) }
