// Package figure draws what people look at rather than read: the distance
// ledger, the coming visits, a measured value against its window, shown and
// true speed, road speed by gear, the completion of a campaign, and what falls
// due week by week.
//
// Each of these is a value (Ledger, Visits, Measured, Speedometer, RoadSpeeds,
// Completion, Load) whose method Figure makes three things that say the same: a
// Drawing, sentences, and a table of every point. It takes a Reader, for
// language, unit and habit, and a Layout, for the room there is: a text is
// never scaled down to fit.
//
// The drawing knows no medium. Figure.SVG writes it into a page; Block does so
// for narrow and wide pages, with the table, and Stylesheet is what such a page
// adds to its own. Paper is drawn from the same marks elsewhere. Nothing in a
// drawing rests on colour, so that it can be printed and copied.
//
// In the order in which a figure comes about: reader.go and words.go write
// numbers, dates and phrases; measure.go and ticks.go reckon; sheet.go, plot.go
// and notes.go place marks and keep texts off each other; ledger.go and its
// neighbours are the figures; svg.go and block.go write them.
package figure
