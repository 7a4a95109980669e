package main

import (
	"os"
	"strings"

	"halfshaft/services/console"
	"halfshaft/services/vehicle"
)

type tyreAgeCommand struct {
	Code []string `arg:"" help:"The age code as it stands on the tyre: 3524, 35/24, or the whole number from DOT on."`
	On   string   `help:"How old on this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *tyreAgeCommand) Run(g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	if on.IsZero() { // no service is asked that would know today
		clock, err := g.clock()
		if err != nil {
			return err
		}
		on = vehicle.DateOf(clock().UTC())
	}
	return (&console.Console{Out: os.Stdout, JSON: g.JSON}).TyreAge(strings.Join(c.Code, " "), on)
}
