package enquiry

import (
	"math"

	"halfshaft/services/vehicle"
)

// Place is a point on the Earth, in degrees of WGS 84: north and east are
// positive.
type Place struct{ Latitude, Longitude float64 }

// Valid reports whether there is such a place.
func (p Place) Valid() bool {
	return math.Abs(p.Latitude) <= 90 && math.Abs(p.Longitude) <= 180 // false for what is no number
}

// meanRadius is the mean radius of the Earth, 6,371.0088 km: the IUGG's R1, a
// third of two equatorial radii and a polar one of GRS 80 (H. Moritz, Geodetic
// Reference System 1980, Journal of Geodesy 74, 2000: 6 371 008.7714 m).
const meanRadius = 6_371_008.8 // metres

// GreatCircle gives the length of the shortest way between two places over a
// sphere of the Earth's mean radius, by the haversine formula, which is exact
// for near places too. The Earth is no sphere, so that it is off by half a
// hundredth at most, which is common knowledge and far less than what a road
// winds.
func GreatCircle(a, b Place) vehicle.Distance {
	const degree = math.Pi / 180
	north, east := math.Sin((b.Latitude-a.Latitude)*degree/2), math.Sin((b.Longitude-a.Longitude)*degree/2)
	// Rounding may carry h a little over 1 for places opposite each other.
	h := math.Min(1, north*north+math.Cos(a.Latitude*degree)*math.Cos(b.Latitude*degree)*east*east)
	metres := 2 * meanRadius * math.Asin(math.Sqrt(h))
	return vehicle.Distance(math.Round(metres * 1000))
}
