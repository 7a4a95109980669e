package ownerpages

// Shrink is shrink, for tests.
var Shrink = shrink
