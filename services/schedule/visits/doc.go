// Package visits groups what falls together, so that an owner comes seldom and
// little life is thrown away.
//
// A task that is done before it is due throws away a part of its interval, and
// with it that part of what it costs; one that is done late runs a risk for
// each day; and each visit costs something by itself (checks.md F9). The plan
// is the one with the least total. It is exact, not a rule of thumb: given the
// days of the visits, each task goes to the one that is best for it, which is
// the last before or the first after the day that suits it best; so that the
// best days are found by dynamic programming over the days at which a total can
// turn. Tasks that must be done together count as one. Tasks that must not be
// done together are kept apart by branch and bound around that.
//
// A later round of an item is planned as if the one before were done on its due
// day: what being early costs is then counted once, and the plan is made anew
// after every visit.
package visits
