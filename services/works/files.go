package works

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"halfshaft/services/exchange/exchangerun"
	"halfshaft/services/vehicle"
)

// Import takes in the works' files and reports to out; progress goes to
// another writer, as a bar where that is a terminal. It says whether the files
// were without fault.
func Import(ctx context.Context, c Clients, today vehicle.Date, paths []string, dryRun bool, out, progress io.Writer) (faultless bool, err error) {
	report, err := takeIn(ctx, c, today, paths, dryRun, progress)
	if report != nil {
		err = cmp.Or(err, report.WriteText(out))
	}
	return err == nil && report.Total == 0, err
}

// ImportJSON is Import with a report for programs.
func ImportJSON(ctx context.Context, c Clients, today vehicle.Date, paths []string, dryRun bool, out, progress io.Writer) (faultless bool, err error) {
	report, err := takeIn(ctx, c, today, paths, dryRun, progress)
	if report != nil {
		err = cmp.Or(err, report.WriteJSON(out))
	}
	return err == nil && report.Total == 0, err
}

func takeIn(ctx context.Context, c Clients, today vehicle.Date, paths []string, dryRun bool, progress io.Writer) (*exchangerun.Report, error) {
	return exchangerun.Import(ctx, c.exchange(), paths, exchangerun.Options{DryRun: dryRun, Today: today, Progress: follow(progress)})
}

// Export writes everything to files.
func Export(ctx context.Context, c Clients, dir, format string, out, progress io.Writer) error {
	records, err := exchangerun.Export(ctx, c.exchange(), dir, format, follow(progress))
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "%d records written to %s\n", records, dir)
	return err
}

func (c Clients) exchange() exchangerun.Clients {
	return exchangerun.Clients{Builds: c.Builds, Parts: c.Parts, Schedules: c.Schedules, Owners: c.Owners, Reminders: c.Reminders, Warranties: c.Warranties, Bulletins: c.Bulletins, Enquiries: c.Enquiries, Handbooks: c.Handbooks}
}

// lineEvery is how often a progress that nobody watches is logged.
const lineEvery = 10 * time.Second

// follow shows progress: a bar for each stage on a terminal, elsewhere a line
// now and then.
func follow(w io.Writer) func(stage string, done, total int) {
	if f, ok := w.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		var bar *progressbar.ProgressBar
		current := ""
		return func(stage string, done, total int) {
			if stage != current {
				bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(stage),
					progressbar.OptionShowCount(), progressbar.OptionOnCompletion(func() { fmt.Fprintln(f) }))
				current = stage
			}
			bar.Set(done) //nolint:errcheck // a terminal that is gone is no reason to stop
		}
	}
	last := time.Now()
	return func(stage string, done, total int) {
		if now := time.Now(); now.Sub(last) >= lineEvery {
			last = now
			fmt.Fprintf(w, "%s: %d of %d\n", stage, done, total)
		}
	}
}
