package works

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"path/filepath"

	"halfshaft/services/handbook/handbookstore"
)

// mostLacking is how many files that are missing are named one by one.
const mostLacking = 20

// CheckHandbooks proves each file of each issued handbook of a data directory,
// whether a process serves it or not, and says which are missing or damaged.
func CheckHandbooks(ctx context.Context, data string, logger *slog.Logger, out io.Writer) (whole bool, err error) {
	client, closeStore, err := storeOf(ctx, data, logger)
	if err != nil {
		return false, err
	}
	defer closeStore()
	dir := filepath.Join(data, handbooksPath)
	a, err := handbookstore.CheckArchive(ctx, client, dir)
	if err != nil {
		return false, err
	}
	if len(a.Lacking) == 0 {
		_, err = fmt.Fprintf(out, "%d issued handbooks have all of their %d files, each as it was issued.\n", a.Issues, a.Files)
		return true, err
	}
	fmt.Fprintf(out, "%d of the %d files of %d issued handbooks are missing or damaged: copy them from the old directory or the backup into %s.\n", len(a.Lacking), a.Files, a.Issues, dir)
	for i, l := range a.Lacking {
		if i == mostLacking {
			fmt.Fprintf(out, "  and %d more\n", len(a.Lacking)-i)
			break
		}
		fmt.Fprintf(out, "  %s\n", l)
	}
	return false, nil
}
