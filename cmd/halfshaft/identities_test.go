package main

import (
	"path/filepath"
	"testing"
)

// TestWhoComesInReadsLikeThis makes a dealer with people and keys, lets them
// see a vehicle, looks at it as they do, and ends it all again.
func TestWhoComesInReadsLikeThis(t *testing.T) {
	data := demoData(t)
	p := serve(t, data, "--date", "2026-05-18")
	defer p.stop(t)
	d := newDesk(t, data, "unix:"+filepath.Join(data, "run", "halfshaft.sock"), "ADDRESS")
	d.types(
		"organisations list", "organisations create ferncombe 'Ferncombe Garage'", "!organisations create ferncombe 'Another'",
		"!organisations create F ''", "organisations list",
		"accounts list", "accounts create ned dealer --full-name 'Ned Ferncombe' --organisation ferncombe",
		"!accounts create ned support --full-name 'Ned'", "!accounts create x1 king --full-name 'X'",
		"!accounts create max dealer --full-name 'Max' --organisation nowhere", "!accounts create max dealer --full-name 'Max'",
		"accounts create ida support --full-name 'Ida Brackenbury'", "!accounts change ida", "accounts change ida --role engineer", "accounts list",
		"!keys create dealer 'bench 1' --title 'bench'", "!keys create --account nobody --title 'tablet'",
		"!keys create --account ned --title 'tablet' --scope everything",
		"!keys create support 'front desk' --title 'desk' --lasts=-3h", "!keys create support 'front desk' --title 'desk' --lasts 0d",
		"!keys create support 'front desk' --title 'desk' --lasts soon", "keys create support 'front desk' --title 'desk' --lasts 2w",
		"keys create --account ned --title 'tablet' --scope schedule.read --scope build.read",
		"assignments list AM0101G", "!assignments create AM0101G ferncombe --for 'service'",
		"!assignments create AM0101G nowhere --ground booking --for 'service'",
		"!assignments create AM0101H ferncombe --ground booking --for 'service'",
		"!assignments create AM0101G ferncombe --ground consent --consent-of p0002 --for 'service'",
		"!assignments create AM0101G ferncombe --ground booking --for 'service' --from 2026-05-18 --until 2027-05-20",
		"assignments create AM0101G ferncombe --ground booking --for '24-month service, noise in the transfer case'",
	)
	ned := " --server unix:" + filepath.Join(data, "run", "halfshaft.sock") + " --api-key {secret}"
	d.types(
		"whoami"+ned, "!schedule AM0103C"+ned, "!record reading AM0101G 7300"+ned, "!keys list"+ned,
	)
	if out, ok := halfshaft(t, data, append([]string{"schedule", "AM0101G"}, words(fill(ned, d.last))...)...); !ok {
		t.Errorf("the dealer's own question: %s", out)
	}
	d.types(
		"assignments end {assignments} --complete --reason 'back with its owner'", "!assignments end {assignments} --complete",
		"!schedule AM0101G"+ned, "assignments list --organisation ferncombe", "assignments list --open",
		"assignments create AM0101G ferncombe --ground consent --consent-of p0001 --for 'a winter of small things' --until 2026-12-31",
		"assignments list AM0101G --open", "!assignments end {assignments}",
		"assignments create AM0101G ferncombe --ground works --for 'the same again'",
		"assignments end {assignments} --reason 'said twice'", "history {assignments}",
		"organisations close ferncombe", "assignments list AM0101G", "!whoami"+ned, "organisations open ferncombe",
		"keys rotate {keys}", "!keys rotate {keys}", "!keys rotate keys/00000000", "!keys rotate {keys} --overlap 9999h", "!keys rotate {keys} --overlap=-1h", "history {keys}", "keys revoke {keys}",
		"accounts close ned", "accounts open ned", "history accounts/ned", "!accounts close nobody",
	)
	likeFile(t, "testdata/identities.golden", d.script.String())
}
