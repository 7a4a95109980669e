package works

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"halfshaft/services/console"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookrpc"
	"halfshaft/services/internal/kv"
	"halfshaft/testdata/aldermoor"
)

// openHandbooks makes the handbook service. What it issues is kept in the data
// directory of this process.
func (p *Process) openHandbooks(ctx context.Context, store *kv.Store, clients Clients) (part, error) {
	c := p.config
	zone, err := time.LoadLocation(c.Works.Zone) // "" is UTC
	if err != nil {
		return nil, err // which Config.normal refused
	}
	return handbookrpc.New(ctx, handbookrpc.Config{
		Store: store, Group: p.group, Dir: filepath.Join(c.Data, handbooksPath), Clock: c.Clock, Zone: zone, Logger: c.Logger,
		Builds: clients.Builds, Parts: clients.Parts, Schedules: clients.Schedules, Warranties: clients.Warranties,
		Works: handbook.ContactPlace{
			Name: c.Works.Name, Address: strings.Join(c.Works.Postal, ", "), Telephone: c.Works.Telephone, Mail: c.Works.Mail,
		},
	})
}

// loadBooks enters the demo's handbook, as staff would.
func loadBooks(ctx context.Context, c Clients) error {
	k := &console.Console{Access: c.Access, Handbooks: c.Handbooks, Out: io.Discard}
	books, err := aldermoor.Books()
	if err != nil {
		return err
	}
	for i, text := range books {
		if err := k.ImportBook(ctx, text); err != nil {
			return fmt.Errorf("load book %d of the demo: %w", i+1, err)
		}
	}
	return nil
}
