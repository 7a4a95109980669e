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
