package schedulerpc_test

import (
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
)

// serials are vehicles of one and the same life.
var serials = []string{"AM01058", "AM0101G", "AM0102E", "AM0103C"}

// facts is the life: the dial gone round and replaced, another axle, readings
// right, wrong, twice, and of one day, work and events of one day, a season and
// a lay-up. Each is a call about one vehicle.
func facts(w *works) []func(serial string) {
	ctx := w.t.Context()
	reading := func(on, mi string, verdict schedulev1.Verdict) func(string) {
		return func(serial string) {
			r := must(w.RecordReading(ctx, &schedulev1.RecordReadingRequest{Parent: "vehicles/" + serial, Reading: &schedulev1.Reading{
				ReadingDate: calendar(on), Value: miles(mi), Source: schedulev1.ReadingSource_READING_SOURCE_OWNER}}))(w.t)
			if verdict != 0 {
				must(w.SettleReading(ctx, &schedulev1.SettleReadingRequest{Name: r.GetName(), Etag: r.GetEtag(),
					Settlement: &schedulev1.Settlement{Verdict: verdict, Reason: "test"}}))(w.t)
			}
		}
	}
	service := func(on, mi string, items ...string) func(string) {
		return func(serial string) {
			e := &schedulev1.ServiceEntry{ServiceDate: calendar(on), Reading: miles(mi)}
			for _, id := range items {
				e.Items = append(e.Items, &schedulev1.ItemDone{ItemId: id})
			}
			must(w.RecordService(ctx, &schedulev1.RecordServiceRequest{Parent: "vehicles/" + serial, ServiceEntry: e}))(w.t)
		}
	}
	event := func(on, mi string) func(string) {
		return func(serial string) {
			must(w.RecordEvent(ctx, &schedulev1.RecordEventRequest{Parent: "vehicles/" + serial, Event: &schedulev1.Event{
				Kind: schedulev1.EventKind_EVENT_KIND_WHEEL_REFITTED, EventDate: calendar(on), Reading: miles(mi)}}))(w.t)
		}
	}
	use := func(f *schedulev1.UseFact) func(string) {
		return func(serial string) {
			must(w.DeclareUse(ctx, &schedulev1.DeclareUseRequest{Parent: "vehicles/" + serial, UseFact: proto.CloneOf(f)}))(w.t)
		}
	}
	change := func(c *buildv1.Change) func(string) {
		return func(serial string) { w.changed(serial, proto.CloneOf(c)) }
	}
	none := schedulev1.Verdict_VERDICT_UNSPECIFIED
	return []func(string){
		reading("2020-06-01", "97300", none), reading("2020-11-01", "97900", none), reading("2021-06-01", "98500", none),
		reading("2021-11-01", "99200", none), reading("2022-02-01", "99700", none), reading("2022-06-01", "250", schedulev1.Verdict_VERDICT_ROLLED_OVER),
		reading("2022-09-01", "700", none), reading("2022-09-01", "700", none), reading("2022-09-02", "7230", none), reading("2022-12-01", "1000", none),
		reading("2024-06-01", "600", none), reading("2024-06-01", "640", none), reading("2025-06-01", "1800", none), reading("2025-06-20", "5100", none),
		change(&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_DIAL, ChangeDate: calendar("2023-06-01"), Reading: miles("1500"), DialStart: miles("0"),
			Dial: release().GetDriveline().GetDial()}),
		change(&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO, ChangeDate: calendar("2024-09-01"), AxleRatio: "5.00"}),
		service("2024-08-01", "700", "E01"), service("2024-08-01", "720", "E01", "L01"), service("2025-02-01", "1400", "L01"),
		event("2025-07-01", "1900"), event("2025-07-01", "1930"),
		use(&schedulev1.UseFact{Kind: schedulev1.UseKind_USE_KIND_LAID_UP, StartDate: calendar("2025-11-01"), EndDate: calendar("2026-03-31")}),
		use(&schedulev1.UseFact{Kind: schedulev1.UseKind_USE_KIND_SEASONAL, StartDate: calendar("2026-11-25"), FirstMonth: 5, LastMonth: 9}),
		use(&schedulev1.UseFact{Kind: schedulev1.UseKind_USE_KIND_SEASONAL, StartDate: calendar("2026-11-25"), FirstMonth: 6, LastMonth: 8}),
	}
}

// told is all that is said about a vehicle, without what tells it or its
// records from others: names are drawn at random, and versions count writes.
func (w *works) told(serial string) string {
	w.t.Helper()
	schedule := must(w.GetSchedule(w.t.Context(), &schedulev1.GetScheduleRequest{Name: "vehicles/" + serial + "/schedule", OnDate: calendar("2026-11-25")}))(w.t)
	readings := must(w.ListReadings(w.t.Context(), &schedulev1.ListReadingsRequest{Parent: "vehicles/" + serial}))(w.t).GetReadings()
	components := must(w.ListComponentDistances(w.t.Context(), &schedulev1.ListComponentDistancesRequest{Parent: "vehicles/" + serial}))(w.t)
	said := []string{plain(w.t, serial, schedule), plain(w.t, serial, components)}
	var list []string
	for _, r := range readings {
		r.Etag = ""
		list = append(list, plain(w.t, serial, r))
	}
	slices.Sort(list) // those of one day are given in the order of their names
	return strings.Join(append(said, list...), "\n")
}

var identifier = regexp.MustCompile(`(readings|serviceEntries|events|useFacts|changes)/[0-9a-f]+`)

func plain(t testing.TB, serial string, m proto.Message) string {
	raw, err := protojson.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.ReplaceAll(strings.ReplaceAll(string(raw), ", ", ","), `": "`, `":"`) // protojson varies its spaces on purpose
	return identifier.ReplaceAllString(strings.ReplaceAll(text, serial, "SERIAL"), "$1/x")
}

// The facts of one life reach each vehicle in another order, one call at a
// time. The last line also computes everything anew from what is stored.
func TestInWhateverOrderTheFactsArriveTheAnswersAreTheSameBytes(t *testing.T) {
	wheels := every("W01", "", 0)
	wheels.Every = nil
	wheels.StartsOn = []*schedulev1.EventStart{{Event: schedulev1.EventKind_EVENT_KIND_WHEEL_REFITTED, NotBefore: miles("30"), WithinDistance: miles("100")}}
	w := start(t, "2020-01-01", every("E01", "3000", 12), every("L01", "500", 0), every("G01", "12000", 0), wheels)
	seed := rand.New(rand.NewPCG(3, 65))
	all := facts(w)
	for _, serial := range serials {
		b := built(serial, "2020-01-01")
		b.DeliveryReading = miles("97000") // it kept the dial of its donor
		must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: b}))(t)
		for _, n := range seed.Perm(len(all)) {
			all[n](serial)
			if seed.IntN(3) == 0 { // questions in between are answered, and remembered
				w.told(serial)
			}
		}
	}
	before := make([]string, len(serials))
	for i, serial := range serials {
		before[i] = w.told(serial)
	}
	for _, other := range before[1:] {
		if other != before[0] {
			t.Errorf("two orders of the same facts give\n%s\nand\n%s", before[0], other)
		}
	}
	if n := strings.Count(before[0], "READING_STATE_DOUBTFUL"); n < 2 {
		t.Errorf("%d readings are doubtful: the life is too smooth for this test", n)
	}
	again := open(t, w.store)
	for i, serial := range serials {
		if got := again.told(serial); got != before[i] {
			t.Errorf("%s computed anew from what is stored:\n%s\nwas\n%s", serial, got, before[i])
		}
	}
}
