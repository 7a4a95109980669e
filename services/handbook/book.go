package handbook

import (
	"fmt"
	"time"

	"halfshaft/services/vehicle"
)

// Book is one version of the text from which handbooks are made.
type Book struct {
	ID        string // "packhorse"
	Version   int    // from 1
	Title     string // what the handbook is called
	Language  string // BCP 47
	Effective vehicle.Date
	Releases  []string // none: all
	Sample    bool
	SignedBy  string
	Chapters  []Chapter
	Created   time.Time
}

// Name is the book's resource name.
func (b *Book) Name() string { return fmt.Sprintf("books/%s/versions/%d", b.ID, b.Version) }

// Chapter is sections about one subject. It keeps its number in every handbook,
// so that the programme can say "Handbook 9".
type Chapter struct {
	Title    string
	Sections []Section
}

// Section is what is said about one thing.
type Section struct {
	ID          string
	Title       string // empty: it goes on from the one before
	AppliesWhen string
	Index       []string
	Passages    []Passage
}

// Passage is one of its fields beside AppliesWhen.
type Passage struct {
	AppliesWhen string
	Text        string
	Steps       []Step
	Points      []Point
	Warning     *Warning
	Values      *ValuesAsked
	Picture     *PictureAsked
	Lines       []string // labels of lines to fill in by hand
}

// Step is done after the one before it. Its warning stands before it.
type Step struct {
	Text        string
	Warning     *Warning
	AppliesWhen string
}

// Point is one of a list without an order.
type Point struct {
	Text        string
	AppliesWhen string
}

// Warning says where something can hurt.
type Warning struct {
	Word string // "Danger"; empty: "Caution"
	Text string
}

// ValuesAsked is a table that the book asks for.
type ValuesAsked struct {
	Kind    ValuesKind
	Caption string
	Of      []string // positions or settings; none: all that the kind has
}

// PictureAsked is a picture that the book asks for.
type PictureAsked struct {
	Kind    PictureKind
	Caption string
}

// ValuesKind is a table that a handbook can have.
type ValuesKind int

// The tables.
const (
	NoValues ValuesKind = iota
	Identity
	Fluids
	Settings
	RoadSpeeds
	IndicatedSpeeds
	ServicePlan
	ServicePages
	MeasuredValues
	Odometer
	Warranty
	Contact
	ServiceEvents
)

var valuesNames = [...]string{
	"none", "identity", "fluids", "settings", "road-speeds", "indicated-speeds", "service-plan", "service-pages",
	"measured", "odometer", "warranty", "contact", "service-events",
}

// Valid reports whether it is one of the tables.
func (k ValuesKind) Valid() bool { return k > NoValues && int(k) < len(valuesNames) }

// String is the kind as files write it.
func (k ValuesKind) String() string {
	if k < 0 || int(k) >= len(valuesNames) {
		return fmt.Sprintf("table %d", int(k))
	}
	return valuesNames[k]
}

// PictureKind is a picture that a handbook can have.
type PictureKind int

// The pictures.
const (
	NoPicture PictureKind = iota
	RoadSpeedPicture
	IndicatedSpeedPicture
	GearLeverPicture
)

var pictureNames = [...]string{"none", "road-speeds", "indicated-speeds", "gear-levers"}

// Valid reports whether it is one of the pictures.
func (k PictureKind) Valid() bool { return k > NoPicture && int(k) < len(pictureNames) }

// String is the kind as files write it.
func (k PictureKind) String() string {
	if k < 0 || int(k) >= len(pictureNames) {
		return fmt.Sprintf("picture %d", int(k))
	}
	return pictureNames[k]
}
