// Package forecast says when a distance will be reached, and how sure that is:
// from the true distances known of one vehicle to the distribution of the date
// of a further one. It is pure: no clock, no store, no chance.
//
//	calendar.go   days into active time, and back: seasons and lay-ups
//	layup.go      the lay-ups to be expected
//	season.go     the weights of the months
//	learn.go      a season out of readings, of one vehicle or of a fleet
//	prior.go      the pace before there are readings
//	slope.go      the median of slopes (Theil 1950, Sen 1968)
//	estimate.go   readings into the forecast of a vehicle's use
//	usage.go      the forecast: dates and chances
//	evidence.go   what it rests on, in words
//	ask.go        whether to ask the owner for a reading
//
// How well it does on owners that do not drive as the model supposes, against a
// straight line through the first and last reading, is in CALIBRATION.md beside
// this file. That table is made anew by
//
//	go test ./services/schedule/forecast -run Calibration -update
package forecast
