// Package bulletin decides for which vehicles advice or a campaign is, and
// follows each vehicle of a campaign until it is settled.
//
// A Bulletin has versions; one that was issued never changes. Its Set names
// vehicles by a list and by conditions over what is on record of them. The
// answer has three values, for what is not on record is not known, and beside
// them NEAR: all conditions hold but one.
//
// Preview says so of every vehicle of a Fleet. Grow compares the list of a
// campaign with the fleet of today: a vehicle that comes into the set comes on
// the list once, and none leaves it by itself. A FollowUp is a vehicle on the
// list; its steps say what happened, its Standing follows from them, and its
// letters from its rounds.
//
// Law is cited as an example, with the name of the law beside it: counsel and
// local law go first. Whether somebody who rebuilds vehicles counts as their
// manufacturer under such a law is for counsel too. See LegalNote.
//
// Everything here is pure: no clock, no store, no network.
package bulletin
