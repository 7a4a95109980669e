package upkeep

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"halfshaft/services/internal/embedetcd"
)

// State is how the store is.
type State struct {
	Usage  embedetcd.Usage // of the fullest member
	Alarms []string        // that the store has raised: "NOSPACE"
	Word   string          // "well", "nearly full", "full" or "corrupt"
	Do     string          // what a person has to do; "" for nothing
}

// words are what people call a level.
var words = map[level]string{fine: "well", nearly: "nearly full", full: "full", corrupt: "corrupt"}

// Look asks the store how it is. It needs no more of c than Client and, where the
// store is embedded, Etcd.
func Look(ctx context.Context, c Config) (State, error) {
	s, err := c.state(ctx)
	if err != nil {
		return State{}, err
	}
	return State{Usage: s.usage, Alarms: s.alarms, Word: words[s.level()], Do: s.advice(c.Etcd != nil)}, nil
}

// Proved is a snapshot that stands, and so was restored and compared.
type Proved struct {
	Day   time.Time // in UTC
	Bytes int64
}

// Snapshots gives those that stand in a directory, the oldest first; none where
// there is no such directory.
func Snapshots(dir string) ([]Proved, error) {
	files, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("list the snapshots: %w", err)
	}
	var out []Proved
	for _, f := range files { // the layout sorts by date
		day, err := time.Parse(fileLayout, f.Name())
		if err != nil || !f.Type().IsRegular() {
			continue
		}
		info, err := f.Info()
		if errors.Is(err, fs.ErrNotExist) {
			continue // given up for a newer one meanwhile
		}
		if err != nil {
			return nil, fmt.Errorf("look at a snapshot: %w", err)
		}
		out = append(out, Proved{day, info.Size()})
	}
	return out, nil
}
