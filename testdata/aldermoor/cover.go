package aldermoor

import (
	"embed"
	"io/fs"
	"path"
)

// What the demo works promises and has found wrong, in the files that a works
// writes: the commands for terms and bulletins read them as they are. Every one
// is a sample, and the suppliers in them are invented.
var (
	//go:embed warranty/*.yaml
	warrantyFiles embed.FS
	//go:embed bulletins/*.yaml
	bulletinFiles embed.FS
	//go:embed books/*.yaml
	bookFiles embed.FS
)

// WarrantyTerms gives the files of the demo's warranty terms, versions in order.
func WarrantyTerms() ([][]byte, error) { return filesOf(warrantyFiles, "warranty/*.yaml") }

// Books gives the files of the demo's handbook, versions in order.
func Books() ([][]byte, error) { return filesOf(bookFiles, "books/*.yaml") }

func filesOf(files embed.FS, pattern string) ([][]byte, error) {
	names, err := fs.Glob(files, pattern)
	if err != nil {
		return nil, err
	}
	var all [][]byte
	for _, name := range names {
		text, err := files.ReadFile(name)
		if err != nil {
			return nil, err
		}
		all = append(all, text)
	}
	return all, nil
}

// Bulletins gives the files of the demo's bulletins, each called by its
// identifier: "C-2026-01.yaml".
func Bulletins() (fs.FS, []string, error) {
	names, err := fs.Glob(bulletinFiles, "bulletins/*.yaml")
	for i := range names {
		names[i] = path.Base(names[i])
	}
	below, errSub := fs.Sub(bulletinFiles, "bulletins")
	if err == nil {
		err = errSub
	}
	return below, names, err
}

// CampaignStep is something that happened to a vehicle of a campaign of the demo.
type CampaignStep struct {
	Serial, Campaign, Kind string
	InDays                 int // after Today
	Text                   string
}

// CampaignSteps is what has happened by the end of the demo's tour.
var CampaignSteps = []CampaignStep{
	{TourSerial, "C-2026-01", "booked", 15, "comes with the summer service"},
}
