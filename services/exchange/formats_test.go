package exchange_test

import (
	"flag"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/exchange"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

func TestThePageOfFormatsSaysWhatTheImportTakes(t *testing.T) {
	golden(t, "../../testdata/FORMATS.md", exchange.WriteFormats())
}

// golden compares with a file that people read.
func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s differs (-file +now); go test -update writes it anew:\n%s", path, diff)
	}
}
