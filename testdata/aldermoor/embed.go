// Package aldermoor is the demo works: the files that it would import, and the
// date on which the demo stands. Aldermoor Works, its vehicles, owners and
// parts are invented; every value is a sample, to be signed by the works'
// engineer.
package aldermoor

import (
	"embed"

	"halfshaft/services/vehicle"
)

// Files are the works' files, as "halfshaft import" reads them.
//
//go:embed *.csv releases programmes amendments
var Files embed.FS

// Today is the demo's date.
var Today = vehicle.MustDate(2026, 5, 18)

// Stop is one stop of the tour: a heading and the command that is shown.
type Stop struct {
	Heading string
	Command []string
}

// Tour is what the demo shows, in order.
var Tour = []Stop{
	{"What left the works under a serial, and what is on it now", []string{"vehicle", TourSerial}},
	{"Which part to order, after what replaced what", []string{"part", TourSerial, "fan belt"}},
	{"What is due, when and why", []string{"schedule", TourSerial}},
	{"Everything about it for the telephone, on one page", []string{"dossier", TourSerial}},
	{"A serial that was misheard opens nothing", []string{"vehicle", "AM0101X"}},
}

// TourSerial is the vehicle that the tour follows.
const TourSerial = "AM0101G"

// OthersSerial is a vehicle that the workshop has nothing to do with.
const OthersSerial = "AM0103C"

// Workshop is the dealer of the demo, who has the tour's vehicle booked in, and
// no other.
var Workshop = struct{ ID, Title, Mechanic, MechanicName, Purpose string }{
	ID: "ferncombe", Title: "Ferncombe Garage", Mechanic: "ned", MechanicName: "Ned Larkrise",
	Purpose: "24-month service, noise in the transfer case",
}

// Dealer is a workshop of the demo with how it is reached. Towns, streets and
// numbers are invented; the places are open moor, fell or sea, where no workshop
// is.
type Dealer struct {
	ID, Title, Street, Town, Country, Phone, Email, Work string
	Latitude, Longitude                                  float64
}

// Dealers are the workshops on record. Lighthouse Auto, which does work as well,
// is none of them.
var Dealers = []Dealer{
	{"ferncombe", "Ferncombe Garage", "Mill Lane", "Ferncombe FC1 2AB", "GB", "+441632960181", "workshop@ferncombe.example", "axles, gearboxes, transfer cases", 50.60, -3.95},
	{"harbour-road", "Harbour Road Garage", "9 Harbour Road", "Fictionbury FB1 4HR", "GB", "+441632960182", "desk@harbour-road.example", "servicing, electrics", 50.10, -4.20},
	{"fell-side", "Fell Side Motors", "Old Fold Yard", "Fellgarth FG3 7SM", "GB", "+441632960183", "fellside@motors.example", "chassis, axles, recovery", 54.45, -2.45},
	{"quay-street", "Quay Street Workshop", "2 Quay Street", "Fictionbury NSW 0004", "AU", "+61255500184", "hello@quay-street.example", "servicing, engines", -34.60, 151.40},
}
