package partsrpc_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
)

// version gives rows that all say the same number: the title of a part, the
// text of its application, and the fluid; and a part that comes with it.
func version(n int) []*partsv1.PartRow {
	plug := aPart("AP-2110", fmt.Sprintf("Drain plug of version %d", n))
	rows := append(gearboxRows(), partRow(aPart(fmt.Sprint("AP-9", n), "Only of one version")))
	for _, row := range rows {
		switch r := row.GetRow().(type) {
		case *partsv1.PartRow_Part:
			if r.Part.GetName() == plug.GetName() {
				r.Part = plug
			}
		case *partsv1.PartRow_Application:
			r.Application.Text = fmt.Sprintf("Of version %d", n)
		case *partsv1.PartRow_Capacity:
			r.Capacity.Fluid = fmt.Sprintf("Oil of version %d", n)
		}
	}
	return rows
}

// Many ask about a few vehicles at once while imports change the catalogue.
// Whoever asks is answered out of one version, never out of two; the race
// detector looks for the rest.
func TestManyWhoAskWhileTheCatalogueChangesAreEachAnsweredOutOfOneVersion(t *testing.T) {
	w := startUses(t, nil).works
	must(w.load(t, "v0", version(0)...))(t)
	names := []string{w.addVehicle(t, "AM0101"), w.addVehicle(t, "AM0102")}
	const imports, askers = 20, 12
	done := make(chan struct{})
	var asking sync.WaitGroup
	for i := range askers {
		name := names[i%len(names)]
		asking.Go(func() {
			for n := 0; ; n++ {
				select {
				case <-done:
					return
				default:
				}
				if err := w.askAnything(t, name, (i+n)%6); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	for n := 1; n <= imports; n++ {
		if _, err := w.load(t, fmt.Sprint("v", n), version(n)...); err != nil {
			t.Error(err)
			break
		}
	}
	close(done)
	asking.Wait()
}

// askAnything asks one of six questions about a vehicle, and looks for two
// versions in one answer.
func (w *works) askAnything(t *testing.T, name string, which int) error {
	ctx := t.Context()
	switch which {
	case 0:
		a, err := w.AnswerPart(ctx, &partsv1.AnswerPartRequest{Build: name, Question: "gearbox drain plug"})
		return oneVersion(a.String(), err)
	case 1:
		a, err := w.AnswerPart(ctx, &partsv1.AnswerPartRequest{Build: name, Question: "ap 2110"})
		return oneVersion(a.String(), err)
	case 2:
		a, err := w.AnswerPart(ctx, &partsv1.AnswerPartRequest{Build: name, Question: "the plug of the drain"})
		return oneVersion(a.String(), err)
	case 3:
		s, err := w.GetTechnicalSheet(ctx, &partsv1.GetTechnicalSheetRequest{Build: name})
		return oneVersion(s.String(), err)
	case 4:
		f, err := w.SearchParts(ctx, &partsv1.SearchPartsRequest{Query: "drain plugs", Build: name})
		return oneVersion(f.String(), err)
	}
	_, err := w.ListUses(ctx, &partsv1.ListUsesRequest{Part: "parts/AP-2000", WithSupersessions: true})
	return err
}

// oneVersion wants a text that names exactly one version.
func oneVersion(text string, err error) error {
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, after := range strings.Split(text, "ersion ")[1:] {
		digits := strings.IndexFunc(after, func(r rune) bool { return r < '0' || r > '9' })
		seen[after[:max(digits, 0)]] = true
	}
	if len(seen) != 1 {
		return fmt.Errorf("versions %v in one answer: %s", seen, text)
	}
	return nil
}
