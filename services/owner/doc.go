// Package owner is about the people behind the vehicles: how they want to be
// told, and who is or was what to which vehicle. The technical record never
// names a person; a tie joins the two for a time, so that on a transfer the
// history stays with the vehicle and the person does not.
package owner
