// Package warranty decides what is covered, by which promise and until when,
// and what becomes of a claim.
//
// The parts, in the order in which a question passes through them:
//
//   - Term (term.go, termcheck.go): promises as data, in versions that never
//     change.
//   - Facts and Question (facts.go, owners.go): what is on record about one
//     vehicle, and what is asked.
//   - Bindings (binding.go): which version of which term a vehicle or unit has,
//     and the day on which it began.
//   - Decide (decide.go, decideterm.go, days.go): the answer, with its reasons
//     (reasons.go).
//   - Claim (claim.go, claimcheck.go, claimmove.go, appeal.go): what is asked
//     for, decided, appealed against and asked back from a supplier; sums
//     (sums.go) and amounts (money.go).
//   - Write (document.go): the warranty of one vehicle on paper.
//   - ClaimRate and DistanceBinds (rate.go): what to expect.
//
// # What is decided at the boundaries
//
// Version. The version binds that was in force when the term began. A vehicle
// or unit that began before the first version, or under one that says the term
// is withdrawn, does not have the term.
//
// First and last day. Both are covered. The last day of n months is the day of
// the same number n months later, so that a year from 3 March 2026 is covered on
// 3 March 2027 as well: the day of the event does not use up the term. Where the
// month has no such day it is the month's last: a year from 29 February 2024
// ends with 28 February 2025, four years from it with 29 February 2028, counted
// from the first day at once and never month by month. The European rule for
// periods in law is the same (Regulation (EEC, Euratom) No 1182/71, Article 3,
// an example of law, in part from memory).
//
// Midnight. Where the moment of a failure is known, it may be two days at once:
// one at the works and one where the owner lives. Unless the term names one
// clock, the day in the customer's favour counts: a day lasts while it is still
// that day in either zone, and begins when it begins in the first. Where only a
// day is known, that is the day.
//
// Distance. It is true distance by the ledger, never what the dial shows,
// counted from the distance at the start; the limit itself is covered. Where the
// distance on the day is not known, a term that ends by distance too can only be
// said to be over, by its time. Where that at the start is not known, the vehicle
// has run no further since than in all.
// Where either was worked out between readings, there is an answer where it is the
// same whatever it was, and otherwise a question.
//
// Days out of service. Whole days, the first and the last among them, of those
// times that a person said count. Times that overlap are merged. Only days
// within the term count, but those within what was added do too: on such a day
// the clock of the term stands still. A time that lasts counts up to the day
// asked about. They extend the months and not the distance.
//
// Fitting. A term from the fitting of a unit does not begin before delivery, and
// begins anew with what is put in its place. A unit that came from another vehicle
// brings its first day, what it ran there and its owners along; one from a vehicle
// that was at the works has been nobody's, and begins here.
//
// Repair. What was repaired or replaced under a term has the rest of it, as if
// nothing had happened. Where the term gives a repair a time of its own, that
// stands beside the rest as a term of its own, from the day of the repair and the
// distance on it: covered is what either covers, so that whichever ends later
// counts. The latest repair up to the day asked about counts, of the unit that
// stands there now. Each term that covered what was repaired gives its own. It
// stays with the vehicle on which it was repaired, and does not go along with a
// unit that is moved.
//
// What failed. A claim is for what stood there when its day began, for most faults
// are put right on the day on which they are found; neither the repair that it asks
// for nor one of that day covers it. What was decided stays when the record is put
// right later; an appeal looks at the record anew, and so does a decision to pay
// where the cover that was kept said that nothing is owed.
//
// What stands there. A term for positions or the whole vehicle covers what the
// works built and what was put in its place in service, whoever did it; not the
// owner's own modification, unless the term names that part.
//
// Another owner. A term that does not go along ends with the day before the
// vehicle comes to somebody else. Whoever joins or leaves an owner who stays
// changes nothing.
//
// Service elsewhere is by itself no ground for refusing anything, and a reason
// says so. (15 U.S.C. 2302(c) is an example of a law that forbids such ties,
// from memory.)
//
// Exclusions. One that names the position holds by itself. Another holds when an
// examination found it; until then the answer mentions it.
//
// Goodwill. It is never owed. Where a term, and not only the one that ended last,
// ended by time or distance only a little before, by the measure of the question,
// the answer says that the works looks at it.
//
// Days of a claim. A moment that is two days counts for the claimant each time: what
// failed on the later one may be claimed, the days for an appeal are counted from
// it, and the last of them lasts while the earlier one does.
//
// What cannot be said. An answer that hangs on something that is not on record
// is Unknown, with the question to ask; but nothing is asked where the answer
// could not change anything.
//
// Law that is cited here is an example, and says which law; counsel and local
// law go first.
package warranty
