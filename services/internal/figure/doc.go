// Package figure draws what people look at rather than read: the distance
// ledger, the coming visits, a measured value against its window, and others.
//
// Each figure is made from plain values into three things that say the same: a
// Drawing, sentences, and a table. The drawing knows no medium; SVG writes it
// into a page, and paper is drawn from the same marks elsewhere. Nothing in a
// drawing rests on colour, so that it can be printed and copied.
package figure
