// Package jobsheet makes the sheet for the work of one visit, and decides what
// becomes of what comes back on it. It is pure: all that it rests on it is given,
// and what follows from a return it gives back as plain values, for the server
// to have carried out.
//
// In the order in which a sheet passes through it:
//
//	make.go     from what is due and what is on record to the sheet
//	order.go    the working order
//	odometer.go what the odometer may show on the day
//	trials.go   for which measured values a pack of shims is looked up
//	job.go      one job: its parts, fluids, settings, values to measure, shims
//	sums.go     what is to be on the shelf
//	check.go    a return against the sheet: what is wrong, what is to be confirmed
//	follow.go   what a return becomes: service entry, changes, steps of campaigns
//	refer.go    what other services say of these, in the fields of the return
package jobsheet
