// Package reminder decides who is told what about which vehicle, and when.
//
// Everything here is a decision over values: what the schedule says, who may
// be told, what was told before, and the present time come in; drafts of
// notices and tasks for the works go out. Claiming, rendering and sending are
// for reminderstore, remindermail and reminderjob.
//
// The words: a round (or cycle) of an item lasts until the work is done; the
// reminding of a round goes through stages; a notice is one message to one
// person, with a line for each item; a claim says that one stage of one round
// has been told, or is being told, to one person, and is never made twice.
package reminder
