package aldermoor_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/works"
)

// placed asks what belongs at places on assemblies. That depends on the vehicle
// in as many ways as the rows of the catalogue can say; each way has its
// vehicles here.
func placed(t *testing.T, ctx context.Context, c works.Clients) {
	for _, s := range []struct {
		serial, question, on, order string // several orders joined by "+"
		rule                        string // a reason that is given, or the rule of the refusal
	}{
		// The lot of the component, which moved in June 2019.
		{"AM01058", "pinion spacer", "2019-06-02", "AP-301057", "APPLICATION"},
		{"AM01058", "pinion spacer", "", "AP-301058", "APPLICATION"},
		{"AM01066", "pinion spacer", "2019-06-09", "AP-301058", "APPLICATION"},
		{"AM01066", "pinion spacer", "", "AP-301057", "APPLICATION"},
		{"AM0135X", "main-shaft rear bearing", "", "AP-120030", "APPLICATION"},
		{"AM0138R", "main-shaft rear bearing", "", "AP-120031", "APPLICATION"},
		// A range of serials with exceptions, also where the release names a part.
		{"AM01090", "steering box stay", "", "AP-500029", "APPLICATION"},
		{"AM0110E", "steering box stay", "", "AP-500030", "APPLICATION"},
		{"AM0136V", "heater", "", "AP-6071", "APPLICATION_REFINES"},
		{"AM0138R", "heater", "", "AP-6070", "RELEASE_STANDARD"},
		{"AM0136V", "heater outlet", "", "AP-607021", "APPLICATION"},
		// The day it was built, within one release.
		{"AM0138R", "rear crossmember", "", "AP-510012", "APPLICATION"},
		{"AM0143X", "rear crossmember", "", "AP-510013", "APPLICATION"},
		// The market.
		{"AM0101G", "headlamp left", "", "AP-603012", "APPLICATION"},
		{"AM0102E", "headlamp left", "", "AP-603011", "APPLICATION"},
		{"AM0102E", "block heater", "", "AP-100050", "APPLICATION"},
		{"AM0101G", "AP-100050", "", "", "NOT_ON_THIS_VEHICLE"},
		// Only together with the assembly that it is on.
		{"AM0101G", "rotor arm", "", "AP-10403", "APPLICATION"},
		{"AM0135X", "rotor arm", "", "AP-104031", "APPLICATION"},
		{"AM0110E", "AP-104011", "2020-09-08", "AP-104011A", "SUPERSEDED"}, // the day before the owner fitted his own
		{"AM0110E", "AP-104011", "", "", "NOT_ON_THIS_VEHICLE"},
		{"AM0103C", "master cylinder seal kit", "", "AP-404013", "APPLICATION"},
		{"AM0151X", "master cylinder seal kit", "", "AP-404014", "APPLICATION"},
		// Options and wheelbase.
		{"AM0158J", "drive flange front left", "2026-02-09", "AP-320019", "APPLICATION"},
		{"AM0158J", "drive flange front left", "", "", "NOTHING_SUPPLIED"},
		{"AM0134Z", "helper spring", "", "AP-504022", "APPLICATION"},
		{"AM0143X", "helper spring", "", "", "NOTHING_SUPPLIED"},
		// Nothing to supply, and why.
		{"AM0164N", "universal joint rear propshaft", "", "", "NOTHING_SUPPLIED"},
		{"AM0101G", "universal joint rear propshaft", "", "AP-21103", "APPLICATION"},
		{"AM0104A", "tailgate hinge", "", "", "UNAVAILABLE"},
		// Another release, and an early vehicle upgraded to it there.
		{"AM0101G", "paper air element", "", "AP-102011", "NOT_ON_THIS_VEHICLE"}, // refused, and what stands there offered
		{"AM0102E", "paper air element", "", "AP-102012", "APPLICATION"},
		// Supersession: merges, a split, a condition, a day to come.
		{"AM0120A", "AP-107016", "2019-04-30", "AP-107016", "APPLICATION"},
		{"AM0120A", "AP-107016", "", "AP-107027", "SUPERSEDED"},
		{"AM0139P", "hub nut front left", "", "AP-320021", "SUPERSEDED"},
		{"AM0101G", "hub nut front left", "", "AP-320012", "SUPERSESSION_OTHER_RELEASE"},
		{"AM0101G", "choke cable", "", "AP-109032", "SUPERSEDED"},
		{"AM0101G", "winch contactor", "", "AP-700021", "CONDITION_NOT_MET"},
		{"AM0111C", "winch contactor", "", "AP-700033", "SUPERSEDED"},
		{"AM01234", "wiper blade left", "", "AP-604014", "SUPERSESSION_LATER"},
		{"AM01234", "wiper blade left", "2026-09-01", "AP-604024", "SUPERSEDED"},
		// Two candidates, and the question that tells them apart; the build record.
		{"AM01162", "speedometer", "", "AP-6060+AP-6061", "FITTED_DIFFERS"},
		{"AM01154", "speedometer", "", "AP-6061", "BUILD_OUTRANKS"},
		{"AM01154", "dial face", "", "AP-606011", "APPLICATION"},
	} {
		req := &partsv1.AnswerPartRequest{Build: "builds/" + s.serial, Question: s.question}
		if s.on != "" {
			req.OnDate = vehiclewire.DateProto(day(t, s.on))
		}
		a, err := c.Parts.AnswerPart(ctx, req)
		if err != nil {
			t.Fatal(err)
		}
		var orders []string
		rules := []string{a.GetRefusal().GetRule()}
		for _, choice := range a.GetChoices() {
			orders = append(orders, strings.TrimPrefix(choice.GetOrder().GetName(), "parts/"))
			for _, r := range choice.GetReasons() {
				rules = append(rules, r.GetRule())
			}
		}
		orders = slices.Compact(orders) // of two halves that became one piece, once
		got := strings.Join(orders, "+")
		if got != s.order || !slices.Contains(rules, s.rule) {
			t.Errorf("%s, %s on %q: got %q by %v, want %q by %s: %s", s.serial, s.question, s.on, got, rules, s.order, s.rule, a.GetRefusal().GetSentence())
		}
		if len(orders) > 1 && a.GetAskBack() == "" {
			t.Errorf("%s, %s: %v and no question", s.serial, s.question, orders)
		}
	}
}
