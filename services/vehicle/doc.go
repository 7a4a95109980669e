// Package vehicle holds the values that every service shares: the serial, the
// civil date, the distance, the decimal quantity with its unit, the odometer's
// dial, and the reason that accompanies each decision.
//
// All of them are plain values: they can be compared, copied and printed, they
// know neither clock nor network, and none of their zero values is mistaken
// for a real one.
package vehicle
