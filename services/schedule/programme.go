package schedule

import (
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
)

// Programme is one version of a service programme: "programmes/packhorse/versions/2".
type Programme struct {
	ID        string // "packhorse"
	Version   int    // from 1
	Title     string
	Effective vehicle.Date // the first day it is in force
	Sample    bool         // no engineer has signed the values
	SignedBy  string
	Items     []Item // in the order of the job sheet
	Visits    VisitRules
}

// Name is the resource name of the version.
func (p *Programme) Name() string {
	return "programmes/" + p.ID + "/versions/" + strconv.Itoa(p.Version)
}

// Item is one task.
type Item struct {
	ID          string // "T02"
	Title       string
	Group       string
	AppliesWhen string // CEL; empty for every vehicle
	Position    string // position, or the beginning several share; empty for the whole vehicle
	First       Limit  // bedding-in
	FirstFrom   CountedFrom
	Every       Limit
	Severe      Severe
	StartsOn    []EventStart
	Resets      []string
	Measured    []MeasuredLimit
	Fluid       FluidNeed
	Parts       []PartNeed
	Tools       []string
	Caution     string
	DocRef      string
	SourceMark  string
	LayUp       LayUpRule
	NoticeDays  int // 0 means DefaultNoticeDays
	Why         string
	OwnerCheck  bool
	// KeepCalendarDays is how far off its due date the work may be done and the
	// next round still be counted, in time, from that date; 0: always from the
	// work.
	KeepCalendarDays int
	Cost             int // of doing it once, in the works' money; 0 for what the programme says of all
	Class            ItemClass
}

// ItemClass is how insistently an owner is reminded of an item. Its numbers are
// those of the API's enumeration; the schedule itself does not look at it.
type ItemClass uint8

// The classes.
const (
	NoClass ItemClass = iota // settling for the bedding-in round and after an event, else routine
	RoutineClass
	SafetyClass
	SettlingClass
	SeasonalClass
)

// DefaultNoticeDays is how long before the due date an item is coming up when
// it does not say.
const DefaultNoticeDays = 30

// notice is the item's notice time in days.
func (i *Item) notice() int {
	if i.NoticeDays == 0 {
		return DefaultNoticeDays
	}
	return i.NoticeDays
}

// Covers says whether the item looks after the position: its own, or one that
// begins with it.
func (i *Item) Covers(position string) bool {
	rest, ok := strings.CutPrefix(position, i.Position)
	return i.Position != "" && ok && (rest == "" || rest[0] == '-')
}

// Limit is a distance and a time, whichever comes first; either may be absent.
type Limit struct {
	Distance vehicle.Entered // as the works wrote it: "3000 mi"
	Months   int
}

// IsZero says whether there is no limit.
func (l Limit) IsZero() bool { return l.Distance.IsZero() && l.Months == 0 }

// Severe shortens Every under hard use. The zero value shortens nothing.
type Severe struct {
	When           []UseKind // any of them; empty means any two kinds at once
	DistanceFactor vehicle.Decimal
	TimeFactor     vehicle.Decimal // the zero value of either factor means 1
}

// EventStart says that an event starts the item.
type EventStart struct {
	Event          EventKind
	NotBefore      vehicle.Entered
	WithinDistance vehicle.Entered
	WithinDays     int // with no WithinDistance either: at once
}

// MeasuredLimit is a quantity to measure, its window and, beyond it, the limit
// at which the engineer is asked.
type MeasuredLimit struct {
	Characteristic, Unit string
	Lower, Upper, Action *vehicle.Decimal // nil where there is none
	Method               string
}

// Within says whether a value lies in the window.
func (m *MeasuredLimit) Within(v vehicle.Decimal) bool {
	return (m.Lower == nil || v.Cmp(*m.Lower) >= 0) && (m.Upper == nil || v.Cmp(*m.Upper) <= 0)
}

// FluidNeed is what is filled in; the zero value is nothing.
type FluidNeed struct {
	Fluid    string
	Quantity vehicle.Quantity
	NeverMix string
}

// PartNeed is a part by its position.
type PartNeed struct {
	Position string
	Quantity int // 0: as many as stand there
	IfNeeded bool
}

// The enumerations have the numbers of halfshaft.schedule.v1.

// CountedFrom says where a first limit begins.
type CountedFrom uint8

// Where first limits begin. The zero value is the fitting, or the delivery for
// an item without position.
const (
	FromUnspecified CountedFrom = iota
	FromFitting
	FromDelivery
)

// EventKind is something that happened in use or in the workshop.
type EventKind uint8

// The kinds of event.
const (
	NoEvent EventKind = iota
	WheelRefitted
	Wading
	Salt
	WadingPlugFitted
	HeadGasket
	RoadSpeedChange
	TyresLetDown
	HardWinching
	LayUpBegins
	Recommission
	eventKinds
)

var eventWords = [eventKinds]string{"", "a wheel was refitted", "the wading", "the salt or beach use",
	"the wading plug was fitted", "the head gasket was renewed", "the change of tyres, axle or speedometer",
	"the tyres were let down", "the hard winching", "the lay-up", "the return from the lay-up"}

// Valid says whether k is a kind of event.
func (k EventKind) Valid() bool { return k > NoEvent && k < eventKinds }

// Words is the event as a sentence names it: "the wading".
func (k EventKind) Words() string {
	if !k.Valid() {
		return "an event"
	}
	return eventWords[k]
}

// UseKind is a way of living that is hard on a vehicle, or none at all.
type UseKind uint8

// The kinds of use.
const (
	NoUse UseKind = iota
	SaltCoast
	Dust
	WadingUse
	Towing
	ShortTrips
	Humid
	LaidUp
	Seasonal
	useKinds
)

var useWords = [useKinds]string{"", "salt coast", "dust", "wading", "towing", "short trips", "humidity", "lay-up", "seasonal use"}

// Valid says whether k is a kind of use.
func (k UseKind) Valid() bool { return k > NoUse && k < useKinds }

// Hard says whether k wears a vehicle out faster.
func (k UseKind) Hard() bool { return k > NoUse && k < LaidUp }

// Words is the use as a sentence names it: "salt coast".
func (k UseKind) Words() string {
	if !k.Valid() {
		return "use"
	}
	return useWords[k]
}

// LayUpRule says where work goes whose date falls into a lay-up.
type LayUpRule uint8

// The rules; the zero value is AtRecommission.
const (
	LayUpUnspecified LayUpRule = iota
	BeforeLayUp
	AtRecommission
	StaysInLayUp
	OnlyInLayUp
	layUpRules
)

// Valid says whether r is a rule.
func (r LayUpRule) Valid() bool { return r < layUpRules }
