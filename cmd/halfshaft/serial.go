package main

import (
	"os"

	"halfshaft/services/console"
)

type serialCommand struct {
	Numbers []string `arg:"" name:"number" help:"Number of a new vehicle, without its check character: AM0165."`
	Count   int      `help:"List this many serials that can be used, from the number on." placeholder:"N"`
}

func (c *serialCommand) Run(g *globals) error {
	return (&console.Console{Out: os.Stdout, JSON: g.JSON}).Serials(c.Numbers, c.Count)
}
