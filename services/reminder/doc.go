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
// has been told, or is being told, to one person by one channel, and is never
// made twice.
//
// A question passes through the files in this order: who is tied to the vehicle
// and may be written to for what (recipient.go); which stage the calendar puts
// an item in, by the cadence of its class, with lay-ups and seasons (stage.go,
// cadence.go); what one person was told, what was answered, and by which way a
// line may go (view.go, answer.go); what goes into one message, and whether the
// limit of messages lets it go (selection.go); why everything else does not
// (explain.go); what the works is told instead (task.go). What becomes of a
// message after that, and what comes back of it, is in delivery.go.
package reminder
