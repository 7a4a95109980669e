package parts_test

import (
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

// TestTheReasonsOfUsesReadWellOnATelephone goes through every reason there is.
func TestTheReasonsOfUsesReadWellOnATelephone(t *testing.T) {
	w := newUseWorld()
	w.built(carA, "R1", "2012-06-01", "gearbox - G1 L7", "swivel-left - - L7")
	w.built(carB, "R1", "2013-06-01")
	w.built(carC, "R2", "2016-06-01")
	w.change(carA, "2014-03-01", build.Change{Kind: build.OptionAdded, Option: "winch"})
	w.move(carA, carB, "2015-03-01", "gearbox")
	w.change(carA, "2015-03-02", build.Change{Kind: build.Fit, Source: build.SourceCampaign, Component: unitOf("gearbox AP-2000 - L8")})
	w.fit(carB, "2018-03-01", "gearbox AP-2000")
	w.overhaul(carB, "2019-03-01", "gearbox AP-2001")
	w.change(carC, "2018-03-01", build.Change{Kind: build.Fit, Source: build.SourceOwner, Component: unitOf("gearbox AP-2000")})
	w.use(carC, "2020-03-01", "1 AP-2001")
	w.fit(carC, "2021-03-01", "swivel-left AP-3001")
	w.use(carC, "2021-03-01", "1 AP-3001 L7")
	w.fit(carA, "2021-03-01", "swivel-left AP-3001")
	w.fit(carA, "2021-03-01", "swivel-right AP-3001")
	w.use(carA, "2021-03-01", "1 AP-3001 L7")
	w.use(carA, "2021-03-01", "1 AP-3001 L8")
	w.use(carA, "2022-03-01", "1 AP-3900")
	w.use(carB, "2022-03-01", "2 AP-3000 L7")
	w.use(carB, "2023-03-01", "2 AP-3001 L8")
	w.use(carB, "2024-03-01", "1 AP-3000 L7")
	w.fit(carB, "2025-03-01", "swivel-left AP-3001 - L8")
	w.use(carB, "2024-04-01", "1 AP-2900")
	w.readLike(t, "testdata/uses.golden", "serial G1", "AP-2000 chain", "AP-2000 lot L7", "AP-3000 lot L7", "AP-3001 lot L7", "AP-3950", "AP-5000")
}

// TestTheReasonsOfTheCatalogueReadWell does so where nothing but the catalogue
// speaks for a use.
func TestTheReasonsOfTheCatalogueReadWell(t *testing.T) {
	w := newUseWorld()
	w.built(carA, "R1", "2012-06-01")
	w.records[carA].Market = "GB"
	w.change(carA, "2014-03-01", build.Change{Kind: build.OptionAdded, Option: "winch"})
	w.built(carB, "R1", "2016-06-01")
	w.fit(carB, "2018-03-01", "gearbox AP-2001")
	w.fit(carB, "2019-03-01", "gearbox-seal AP-2600")
	w.fit(carB, "2020-03-01", "gearbox AP-2001")
	w.overhaul(carB, "2021-03-01", "swivel-left AP-3001 - L8")
	w.use(carB, "2022-03-01", "1 AP-2500")
	w.built(carC, "R2", "2016-06-01")
	w.use(carC, "2017-03-01", "1 AP-2600")
	w.supersede("S1", "AP-2000", "AP-2001", "2015-01-01", func(s *parts.Supersession) { s.OldStock = parts.UsedUpFirst })
	w.readLike(t, "testdata/usescatalogue.golden", "AP-2500", "AP-2501", "AP-2600", "AP-2710", "AP-2550", "AP-2000", "AP-2001", "AP-3000 chain", "AP-3001")
}

// readLike compares the answers to some questions, with all reasons, with a
// golden file.
func (w *useWorld) readLike(t *testing.T, path string, questions ...string) {
	t.Helper()
	var got strings.Builder
	for _, question := range questions {
		got.WriteString("? " + question + "\n")
		for _, u := range w.ask(t, question).Uses {
			got.WriteString(told(append(w.ask(t, question).Uses[:0:0], u))[0] + "\n")
			for _, r := range u.Reasons {
				got.WriteString("    " + r.Rule + ": " + r.Sentence + "\n")
			}
		}
		got.WriteString("\n")
	}
	if *update {
		if err := os.WriteFile(path, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got.String()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
