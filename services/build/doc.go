// Package build decides what is on a vehicle: what left the works, what is on
// it on a date, and which record says so.
//
// Three things are kept apart, for decades later they answer different
// questions:
//
//   - a Record is what left the works under a serial, to a numbered Release of
//     the works' specification;
//   - a Change is something that really happened to the vehicle on a date;
//   - an Amendment corrects what a Record says; the former text is kept.
//
// AsBuilt resolves the first, Configure the first two up to a date, and
// TimelineOf gives the whole life: which unit stood where from when until
// when, and how the odometer counted meanwhile.
//
// Everything here is pure: no clock, no store, no network.
package build
