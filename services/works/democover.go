package works

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"halfshaft/services/console"
	"halfshaft/testdata/aldermoor"
)

// loadCover enters what the demo works promises: the terms in its files, as staff
// would.
func loadCover(ctx context.Context, c Clients) error {
	k := &console.Console{Access: c.Access, Warranties: c.Warranties, Out: io.Discard}
	terms, err := aldermoor.WarrantyTerms()
	if err != nil {
		return err
	}
	for i, text := range terms {
		if err := k.AddWarrantyTerm(ctx, text); err != nil {
			return fmt.Errorf("load warranty term %d of the demo: %w", i+1, err)
		}
	}
	return nil
}

// loadBulletins enters the bulletins in the demo's files, issues each, and records
// what has happened to vehicles of its campaigns. The files are laid out in a
// directory, for people to look at.
func loadBulletins(ctx context.Context, c Clients, dir string) error {
	files, names, err := aldermoor.Bulletins()
	if err != nil {
		return err
	}
	if err := os.CopyFS(dir, files); err != nil {
		return fmt.Errorf("lay out the demo's bulletins: %w", err)
	}
	k := &console.Console{Access: c.Access, Builds: c.Builds, Bulletins: c.Bulletins, Out: io.Discard}
	for _, name := range names {
		id := strings.TrimSuffix(name, ".yaml")
		if err := k.AddBulletin(ctx, filepath.Join(dir, name)); err != nil {
			return fmt.Errorf("load the bulletin %s: %w", id, err)
		}
		if err := k.IssueBulletin(ctx, id); err != nil {
			return fmt.Errorf("issue the bulletin %s: %w", id, err)
		}
	}
	for _, s := range aldermoor.CampaignSteps {
		given := console.StepGiven{Kind: s.Kind, On: aldermoor.Today.AddDays(s.InDays), Text: s.Text}
		if err := k.RecordCampaignStep(ctx, s.Serial, s.Campaign, given); err != nil {
			return fmt.Errorf("record a step of %s for %s: %w", s.Campaign, s.Serial, err)
		}
	}
	return nil
}
