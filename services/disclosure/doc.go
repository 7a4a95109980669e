// Package disclosure drafts what the odometer law asks of whoever transfers a
// vehicle, or fits another odometer to it: the statement of its mileage, and the
// notice on the door frame.
//
// The law here is that of the United States, as an example: 49 U.S.C. 32704 and
// 49 CFR part 580. Other countries have other law, and so have the States. What
// is drafted is for counsel to look at before anybody signs it; it is no advice
// about the law. Each text says so itself.
//
// A rebuilt vehicle raises two questions that no record answers, and which are
// therefore shown and not decided: which model year it has, that of its donor or
// that of the rebuild; and whether its mileage begins with the rebuild.
package disclosure
