//go:build long

package main

import "testing"

// The campaigns behind the figures of the README: "make long".

func TestLongKillsUnderWriteLoad(t *testing.T) { killWrites(t, longKills) }

func TestLongKillsOfTheSendingPass(t *testing.T) { killPasses(t, longPassKills) }
