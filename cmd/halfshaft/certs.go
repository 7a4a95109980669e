package main

import (
	"os"

	"halfshaft/services/works"
)

// certsCommand is a certificate authority for a works without one.
type certsCommand struct {
	Authority certsAuthorityCommand `cmd:"" help:"Make the authority."`
	Issue     certsIssueCommand     `cmd:"" help:"Sign a certificate for a process, a server, a member of an etcd cluster, or a client."`
	Renew     certsRenewCommand     `cmd:"" help:"Sign the next certificate for a name, with a new key."`
	List      certsListCommand      `cmd:"" help:"What was signed, and when it ends."`
	Show      certsShowCommand      `cmd:"" help:"The certificate for a name."`
}

// certsFlags are those of all of them.
type certsFlags struct {
	Dir string `help:"Directory of the authority. Keep it off the machines that serve: whoever has its key can be any of your services." default:"halfshaft-authority" type:"path"`
}

// authority reads the flags.
func (c certsFlags) authority(g *globals) (works.Authority, error) {
	clock, err := g.clock()
	if err != nil {
		return works.Authority{}, err
	}
	return works.Authority{Dir: c.Dir, Now: clock(), JSON: g.JSON, Out: os.Stdout}, nil
}

type certsAuthorityCommand struct {
	certsFlags
	Name string `help:"What it is called." default:"halfshaft authority"`
}

func (c *certsAuthorityCommand) Run(g *globals) error {
	a, err := c.authority(g)
	if err != nil {
		return err
	}
	return a.Create(c.Name)
}

type certsIssueCommand struct {
	certsFlags
	Name string   `arg:"" help:"What the files are called: records."`
	Host []string `help:"Name or address at which it is reached. May be repeated." placeholder:"HOST"`
	For  string   `help:"process, server, etcd or client. A process and a member of etcd are called and call." default:"process" enum:"process,server,etcd,client"`
	Days int      `help:"For how long, 397 at most." default:"397"`
}

func (c *certsIssueCommand) Run(g *globals) error {
	a, err := c.authority(g)
	if err != nil {
		return err
	}
	return a.Issue(c.Name, c.Host, c.For, c.Days)
}

type certsRenewCommand struct {
	certsFlags
	Name string `arg:"" help:"Whose."`
	Days int    `help:"For how long, 397 at most." default:"397"`
}

func (c *certsRenewCommand) Run(g *globals) error {
	a, err := c.authority(g)
	if err != nil {
		return err
	}
	return a.Renew(c.Name, c.Days)
}

type certsListCommand struct{ certsFlags }

func (c *certsListCommand) Run(g *globals) error {
	a, err := c.authority(g)
	if err != nil {
		return err
	}
	return a.List()
}

type certsShowCommand struct {
	certsFlags
	Name string `arg:"" help:"Whose."`
}

func (c *certsShowCommand) Run(g *globals) error {
	a, err := c.authority(g)
	if err != nil {
		return err
	}
	return a.Show(c.Name)
}
