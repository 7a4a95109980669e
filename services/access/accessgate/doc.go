// Package accessgate stands before every method of a server: it finds out who
// calls, and asks the table of services/access whether they may.
//
// Who calls is known in one of these ways:
//
//   - by an API key, "authorization: Bearer hsk_…", on any connection
//   - without a key, through the unix socket of the data directory, which only
//     the user who runs the process can open: the local operator, an
//     administrator
//   - without a key, from within this process: a service
//
// A service speaks for the person on whose behalf it asks: it adds the header
// "halfshaft-caller", and that person is the one authorised, at every service
// on the way. Nobody else may add that header.
//
// A call passes these steps, each in a file of its own:
//
//	enter.go    who calls, by key or connection, and for whom (speaker.go, keyring.go)
//	book.go     whether their account and organisation are open
//	limits.go   whether they call too often
//	rules.go    whether their role may call the method, and their key (services/access)
//	ties.go     whether what the request names is theirs: an owner's by a tie, a
//	            dealer's by an assignment (book.go)
//	record.go   what came of it, for the audit (objects.go)
//	call.go     what of the answer and of a refusal they may see
//	uses.go     when a key was last used, told beside the calls
//
// What the gate knows of keys, ties, accounts and assignments comes in feeds
// (gate.go, snapshot.go).
package accessgate
