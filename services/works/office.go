package works

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"halfshaft/services/desk"
	"halfshaft/services/exchange/exchangerun"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/upkeep"
	"halfshaft/services/vehicle"
)

// uploadsPath is where files that came through the desk stand while they are
// read, below the data directory. What a process that was killed left there goes
// at the next start: the files may hold names and addresses.
const uploadsPath = "run/uploads"

// waitingPath is where such files wait until somebody says that they are to be
// imported, likewise: not for long, and after a restart too.
const waitingPath = "run/waiting"

// importUpload takes in files that came through the desk, as the person for whom
// the context calls.
func (p *Process) importUpload(clients Clients, zone *time.Location) func(context.Context, []desk.Upload, bool) (desk.Imported, error) {
	return func(ctx context.Context, files []desk.Upload, dryRun bool) (out desk.Imported, err error) {
		root := filepath.Join(p.config.Data, uploadsPath)
		if err := os.MkdirAll(root, 0o700); err != nil {
			return out, fmt.Errorf("make room for the files: %w", err)
		}
		dir, err := os.MkdirTemp(root, "")
		if err != nil {
			return out, fmt.Errorf("make room for the files: %w", err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
		if err := putDown(dir, files); err != nil {
			return out, fmt.Errorf("put down a file: %w", err)
		}
		r, err := exchangerun.Import(ctx, clients.exchange(), []string{dir}, exchangerun.Options{DryRun: dryRun, Today: vehicle.DateOf(p.config.Clock().In(zone))})
		if err != nil {
			return out, err
		}
		return imported(r), nil
	}
}

// putDown writes files below a directory and nowhere else, whatever they are
// called.
func putDown(dir string, files []desk.Upload) error {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	for _, f := range files {
		name := filepath.FromSlash(f.Name)
		if err := root.MkdirAll(filepath.Dir(name), 0o700); err != nil {
			return err
		}
		if err := root.WriteFile(name, f.Bytes, 0o600); err != nil {
			return err
		}
	}
	return nil
}

// imported writes a report for the desk, without the directories of this machine.
func imported(r *exchangerun.Report) desk.Imported {
	out := desk.Imported{Total: r.Total, NotLooked: r.NotLooked, New: r.New, Written: r.Written, Unchanged: r.Unchanged}
	for _, t := range r.Tables {
		out.Tables = append(out.Tables, desk.ImportedTable{Name: t.Table, Rows: t.Rows})
	}
	for _, f := range r.Faults {
		out.Faults = append(out.Faults, desk.ImportFault{File: filepath.Base(f.File), Sheet: f.Sheet, Row: f.Row, Column: f.Column, Got: f.Got, Want: f.Want})
	}
	for _, name := range r.Left {
		out.Left = append(out.Left, filepath.Base(name))
	}
	return out
}

// health says how the store, its snapshots and the jobs are.
func (p *Process) health(ctx context.Context) (out desk.Health, err error) {
	asked := time.Now()
	s, err := upkeep.Look(ctx, upkeep.Config{Etcd: p.etcd, Client: p.client})
	if err != nil {
		return out, err
	}
	out.Store = desk.StoreHealth{State: s.Word, Do: s.Do, File: s.Usage.File, InUse: s.Usage.InUse, Quota: s.Usage.Quota, Alarms: s.Alarms, Wait: time.Since(asked)}
	runs, err := leader.LastRuns(ctx, p.client)
	if err != nil {
		return out, err
	}
	for _, r := range runs {
		out.Jobs = append(out.Jobs, desk.JobRun{Name: r.Job, Scheduled: r.Scheduled, Begun: r.Begun, Finished: r.Finished, Tries: r.Tries})
	}
	snapshots, err := upkeep.Snapshots(filepath.Join(p.config.Data, snapshotsPath))
	if err != nil {
		return out, err
	}
	out.Snapshots = desk.SnapshotHealth{Taken: p.config.Snapshots && p.etcd != nil, Kept: len(snapshots)}
	if n := len(snapshots); n > 0 {
		out.Snapshots.Last, out.Snapshots.Bytes = snapshots[n-1].Day, snapshots[n-1].Bytes
	}
	if sentence, _, soon := p.config.endingCertificate(); soon {
		out.Warnings = append(out.Warnings, sentence)
	}
	for _, stale := range staleZones() {
		out.Warnings = append(out.Warnings, "time zones: "+stale)
	}
	out.Version, _, _ = strings.Cut(Version(), "\n")
	return out, nil
}
