// Package jobsheetwire is the one conversion between job sheets and their
// protos.
package jobsheetwire
