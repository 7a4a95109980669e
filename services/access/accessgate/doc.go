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
package accessgate
