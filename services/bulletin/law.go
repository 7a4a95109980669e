package bulletin

import (
	"slices"
	"time"

	"halfshaft/services/vehicle"
)

// LegalNote stands in every document that counts days or classes by a law.
const LegalNote = "Days and classes follow United States law (49 CFR parts 573 and 577, 49 U.S.C. 30120) as an example. " +
	"Counsel and local law go first, and whether somebody who rebuilds vehicles counts as their manufacturer is for counsel to say."

const (
	notifyDays      = 60  // 49 CFR 577.7(a)(1)
	reportDays      = 5   // working days, 49 CFR 573.6(b)
	freeRemedyYears = 15  // 49 U.S.C. 30120(g)(1)
	quarterDays     = 30  // after the quarter's end, 49 CFR 573.7(d), from memory
	monthsPerYear   = 12  // of the calendar
	reportQuarters  = 6   // 49 CFR 573.7(a), from memory
	longestSearch   = 366 // days that are looked through for a working day
)

// NotifyBy is the last day for letters to owners after a report was filed: 60
// days (49 CFR 577.7(a)(1), an example of law). Zero for no report.
func NotifyBy(filed vehicle.Date) vehicle.Date { return filed.AddDays(notifyDays) }

// ReportBy is the last day for the report after a fault was determined: five
// working days, Mondays to Fridays but for the holidays given (49 CFR 573.6(b),
// an example of law). Zero for no determination.
func ReportBy(determined vehicle.Date, holidays []vehicle.Date) vehicle.Date {
	d := determined
	for left, looked := reportDays, 0; left > 0 && !d.IsZero() && looked < longestSearch; looked++ {
		d = d.AddDays(1)
		if w := d.Weekday(); w != time.Saturday && w != time.Sunday && !slices.Contains(holidays, d) {
			left--
		}
	}
	return d
}

// FreeRemedyUntil is the last day on which the remedy is without charge by
// law: 15 calendar years from the first purchase (49 U.S.C. 30120(g)(1), an
// example of law; 10 before its amendment of 2015). A works may go on longer.
func FreeRemedyUntil(firstPurchase vehicle.Date) vehicle.Date {
	return firstPurchase.AddMonths(freeRemedyYears * monthsPerYear)
}

// QuarterReportBy is the last day for the report of a quarter: the 30th of the
// month after it (49 CFR 573.7(d), an example of law, from memory).
func QuarterReportBy(q Quarter) vehicle.Date { return q.Last().AddDays(quarterDays) }
