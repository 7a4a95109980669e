package works

import "runtime/debug"

// settledGC is how much garbage, in per cent of what lives, may gather before
// it is collected. A process over a large fleet holds much that never changes;
// at Go's standard of 100 it would hold as much again in garbage.
const settledGC = 20

// Settle makes a process that has just started small: what the loading left
// behind goes back to the system at once. It is for the program itself; the
// setting is the whole process's.
func Settle() {
	debug.SetGCPercent(settledGC)
	debug.FreeOSMemory()
}
