package console

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
)

func readText(t *testing.T, text string) (*bulletinv1.Bulletin, error) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bulletin.yaml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return readBulletin(path)
}

func TestABulletinsFileMaySayDaysKindsAndDistancesAsPeopleDo(t *testing.T) {
	b, err := readText(t, `
name: C-1
kind: campaign
report_date: 2026-03-09
set: {serials: [AM0147P], condition: {use: {kinds: [salt-coast, towing]}}}
remedy: [{item_id: C1, measured: [{characteristic: gap, unit: mm, lower: 0.10}], reinspection: {distance: 500 mi}}]
`)
	if err != nil {
		t.Fatal(err)
	}
	it := b.GetRemedy()[0]
	if b.GetKind() != bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN || b.GetReportDate().GetDay() != 9 || len(b.GetSet().GetCondition().GetUse().GetKinds()) != 2 ||
		it.GetMeasured()[0].GetLower() != "0.10" || entered(it.GetReinspection().GetDistance()) != "500 mi" {
		t.Errorf("got %v", b)
	}
}

func TestABulletinsFileWithASlipIsRefusedWithTheField(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"an unknown field":        {"titel: Bolts", "titel"},
		"a field twice":           {"title: Bolts\ntitle: Nuts", "title"},
		"a day that is none":      {`report_date: "2026-02-30"`, "report_date"},
		"a distance with no unit": {"remedy: [{reinspection: {distance: x500}}]", "distance"},
		"a kind that is none":     {"kind: rumour", "RUMOUR"},
		"no fields":               {"", "fields"},
		"a list":                  {"- a", "fields"},
		"no YAML":                 {"a: [", "YAML"},
		"a reference":             {"title: &t Bolts\nfault: *t", "references"},
	} {
		t.Run(name, func(t *testing.T) {
			if b, err := readText(t, c.text); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, %v; want a refusal that says %q", b, err, c.want)
			}
		})
	}
}
