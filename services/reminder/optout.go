package reminder

import (
	"time"

	"halfshaft/services/vehicle"
)

// OptOut says that a person wants no service notices about a vehicle. It never
// stops a safety campaign.
type OptOut struct {
	Serial  vehicle.Serial
	Person  string
	Created time.Time
	Way     string  // one of Ways
	Purpose Purpose // 0 is Service; never Safety
}

// Ways are the ways in which an opt-out may come.
func Ways() []string { return []string{"one-click", "page", "staff", "mail", "text", "complaint"} }

// ID is the opt-out's identifier: "AM0147P.p0031".
func (o OptOut) ID() string { return string(o.Serial) + "." + o.Person }
