// Package trend follows one measured quantity of one vehicle: whether a value
// lies within its limit, how it compares with the last, where it is going, when
// it meets its limit, and how sure that is. It is pure: no clock, no store.
//
//	window.go    a value against its window and its action limit, exactly
//	series.go    the values of a quantity, and the days on which it began anew
//	gains.go     the values that got better by themselves, which wear does not explain
//	line.go      least squares, with what the line is worth
//	trend.go     from the values since the last renewal to a line, by time or by distance
//	crossing.go  from the line to the days on which it meets its limits
//	judge.go     what a value that somebody has just measured means
//	words.go     all of it in sentences
//
// # Which statistics, and why
//
// The line is that of least squares, and what it is worth is told with Student's
// t, because a quantity is measured three to ten times in its life: the median
// of slopes, which forecasts distances beside this package, has no interval of
// use from so few, and rounded values make it jump. Its one advantage is kept:
// of five values and more those that lie wildly off the median of slopes are
// set aside before the line is fitted, and named.
//
// The scatter about the line is never taken for less than a step of the
// instrument over the root of six: a measured value is the difference of two
// readings, each rounded to a step, and that is the standard deviation of such a
// difference (a triangular distribution, JCGM 100:2008, 4.3.9). Values that were
// rounded to the same figure are not exact.
//
// A rise or fall is claimed when the slope differs from none at one chance in
// ten. Ranges hold in four cases out of five, as everywhere in halfshaft; a
// date's range is that of the day on which a measurement would meet the limit,
// not of the line, which is narrower and which nobody sees.
package trend
