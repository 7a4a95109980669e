package warrantywire_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantywire"
)

var text = rapid.StringMatching(`[a-z]{0,8}`)

func day(t *rapid.T) vehicle.Date {
	if rapid.Bool().Draw(t, "no day") {
		return vehicle.Date{}
	}
	return vehicle.DateFromOrdinal(rapid.IntRange(0, 40_000).Draw(t, "day"))
}

func moment(t *rapid.T) time.Time {
	return time.Unix(rapid.Int64Range(1, 4e9).Draw(t, "second"), 0).UTC()
}

func aTerm(t *rapid.T) warranty.Term {
	term := warranty.Term{
		ID: "WORKS-12", Version: rapid.IntRange(1, 9999).Draw(t, "version"), Title: text.Draw(t, "title"), Giver: warranty.Giver(rapid.IntRange(0, 2).Draw(t, "giver")),
		Supplier: text.Draw(t, "supplier"), Releases: rapid.SliceOfN(text, 1, 3).Draw(t, "releases"), Positions: rapid.SliceOfN(text, 1, 3).Draw(t, "positions"),
		Parts: rapid.SliceOfN(text, 1, 3).Draw(t, "parts"), Start: warranty.Start(rapid.IntRange(0, 5).Draw(t, "start")), Months: rapid.IntRange(0, 600).Draw(t, "months"),
		Distance: vehicle.Distance(rapid.Int64Range(0, 1e12).Draw(t, "distance")), Midnight: warranty.Midnight(rapid.IntRange(0, 2).Draw(t, "midnight")),
		CoversParts: rapid.Bool().Draw(t, "parts paid"), CoversWork: rapid.Bool().Draw(t, "work paid"), Conditions: rapid.SliceOfN(text, 1, 3).Draw(t, "conditions"),
		Transferable: rapid.Bool().Draw(t, "transferable"), ExtendedByDaysOut: rapid.Bool().Draw(t, "extended"),
		Repair:    warranty.RepairTerm{Months: rapid.IntRange(0, 60).Draw(t, "repair months"), Distance: vehicle.Distance(rapid.Int64Range(0, 1e12).Draw(t, "repair distance"))},
		Effective: day(t), Withdrawn: rapid.Bool().Draw(t, "withdrawn"), Sample: rapid.Bool().Draw(t, "sample"), SignedBy: text.Draw(t, "signed by"),
	}
	term.Exclusions = []warranty.Exclusion{{ID: text.Draw(t, "exclusion"), Text: text.Draw(t, "words"), Positions: rapid.SliceOfN(text, 1, 2).Draw(t, "of")}}
	return term
}

// over sends a message as bytes, as it is stored and asked for.
func over[M proto.Message](t *rapid.T, m, into M) M {
	raw, err := proto.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	if err := proto.Unmarshal(raw, into); err != nil {
		t.Fatal(err)
	}
	return into
}

func TestATermIsReadAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := aTerm(t)
		got, err := warrantywire.Term(over(t, warrantywire.TermProto(want), &warrantyv1.WarrantyTerm{}))
		if diff := cmp.Diff(want, got); diff != "" || err != nil {
			t.Fatalf("%v %s", err, diff)
		}
	})
}

func TestAClaimIsReadAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(name string) int64 { return rapid.Int64Range(0, 1e9).Draw(t, name) }
		want := warranty.Claim{
			Serial: "AM0147P", ID: "0123456789ab", State: warranty.ClaimState(rapid.IntRange(0, 8).Draw(t, "state")), Position: text.Draw(t, "position"), Failed: day(t),
			Reading: vehicle.Entered{Value: vehicle.Decimal{Coefficient: number("reading"), Scale: 1}, Unit: vehicle.Kilometres},
			Symptom: text.Draw(t, "symptom"), Cause: text.Draw(t, "cause"), Remedy: text.Draw(t, "remedy"), Currency: "GBP", Exclusions: []string{"wear"},
			Parts:        []warranty.ClaimPart{{Part: text.Draw(t, "part"), Quantity: int(number("quantity")), FailedLot: text.Draw(t, "failed"), FittedLot: text.Draw(t, "fitted"), UnitPrice: number("price")}},
			Labour:       []warranty.ClaimLabour{{Text: text.Draw(t, "work"), Minutes: int(number("minutes")), Rate: number("rate")}},
			Other:        []warranty.ClaimCost{{Text: text.Draw(t, "other"), Amount: number("amount")}},
			ServiceEntry: text.Draw(t, "entry"), Organisation: text.Draw(t, "organisation"), RecordedBy: text.Draw(t, "by"), Created: moment(t),
			Authorisation: &warranty.Authorisation{Limit: number("limit"), Text: text.Draw(t, "for"), By: text.Draw(t, "authorised by"), Time: moment(t)},
			Decisions: []warranty.Decision{{Outcome: warranty.Outcome(rapid.IntRange(0, 4).Draw(t, "outcome")), Parts: number("p"), Work: number("w"), Other: number("o"),
				Reason: text.Draw(t, "why"), Exclusion: text.Draw(t, "rests on"), By: text.Draw(t, "decided by"), Time: moment(t), AppealUntil: day(t)}},
			Steps: []warranty.Step{{State: warranty.ClaimState(rapid.IntRange(0, 8).Draw(t, "came to")), Text: text.Draw(t, "said"), By: text.Draw(t, "said by"), Time: moment(t)}},
			Recovery: &warranty.Recovery{State: warranty.RecoveryState(rapid.IntRange(0, 4).Draw(t, "recovery")), Supplier: text.Draw(t, "who"), Term: text.Draw(t, "term"),
				Asked: number("asked"), Received: number("received"), Text: text.Draw(t, "reference")},
		}
		got, err := warrantywire.Claim(over(t, warrantywire.ClaimProto(&want), &warrantyv1.Claim{}))
		if diff := cmp.Diff(want, got); diff != "" || err != nil {
			t.Fatalf("%v %s", err, diff)
		}
	})
}

func TestACoverIsReadAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		term := aTerm(t)
		why := []vehicle.Reason{{Rule: "COVERED", Facts: []vehicle.Fact{{Name: "a", Value: text.Draw(t, "value")}}, Record: text.Draw(t, "record"), Sentence: text.Draw(t, "sentence")}}
		want := &warranty.Cover{
			Position: "gearbox", On: day(t), Distance: warranty.TrueDistance{}, State: warranty.State(rapid.IntRange(0, 3).Draw(t, "state")), Parts: rapid.Bool().Draw(t, "parts"),
			Work: rapid.Bool().Draw(t, "work"), Reasons: why, Sentence: text.Draw(t, "answer"), Question: text.Draw(t, "question"), Goodwill: rapid.Bool().Draw(t, "goodwill"),
			Sample: rapid.Bool().Draw(t, "sample"),
			Terms: []warranty.TermCover{{Term: term, State: warranty.Unknown, First: day(t), Last: day(t), Limited: rapid.Bool().Draw(t, "limited"), Added: 3,
				EndedBy: warranty.Limb(rapid.IntRange(0, 4).Draw(t, "limb")), OfRepair: rapid.Bool().Draw(t, "of repair"), Reasons: why, Question: text.Draw(t, "asks")}},
		}
		if want.Terms[0].Limited {
			want.Terms[0].Until = vehicle.Distance(rapid.Int64Range(0, 1e12).Draw(t, "until")) // 0 is a limit too
		}
		if rapid.Bool().Draw(t, "known") {
			want.Distance = warranty.True(vehicle.Distance(rapid.Int64Range(0, 1e12).Draw(t, "distance"))) // and 0 a distance
		}
		m := over(t, warrantywire.CoverProto("AM0147P", want), &warrantyv1.Cover{})
		got, err := warrantywire.Cover(m, func(name string) (warranty.Term, bool) { return term, name == term.Name() })
		if diff := cmp.Diff(want, got); diff != "" || err != nil {
			t.Fatalf("%v %s", err, diff)
		}
	})
}

func TestWhatCannotBeReadIsNamedAtOnce(t *testing.T) {
	_, err := warrantywire.Term(&warrantyv1.WarrantyTerm{Name: "warrantyTerms/X/versions/01", Repair: &warrantyv1.RepairTerm{}, Giver: 300})
	if fields := fault.FieldsOf("", err); len(fields) != 1 || fields[0].Name != "name" {
		t.Errorf("got %v", err)
	}
	for _, name := range []string{"", "warrantyTerms/X", "warrantyTerms/X/versions/0", "warrantyTerms/X/versions/-1", "warrantyTerms/X/versions/10000", "warrantyTerms/X/versions/+1", "warrantyTerms/ /versions/1"} {
		if id, version, err := warrantywire.TermID("name", name); err == nil {
			t.Errorf("%q is read as %s %d", name, id, version)
		}
	}
	_, err = warrantywire.Claim(&warrantyv1.Claim{Name: "vehicles/AM0147X/claims/1"})
	if !fault.Is(err, fault.Invalid) {
		t.Errorf("got %v", err)
	}
}

// FuzzMessages holds to it that no bytes that are a message break the reader.
func FuzzMessages(f *testing.F) {
	for _, m := range []proto.Message{
		warrantywire.TermProto(warranty.StandardTerm(vehicle.MustDate(2026, 1, 1))),
		&warrantyv1.Claim{Name: "vehicles/AM0147P/claims/1", State: 300, Decisions: []*warrantyv1.ClaimDecision{{Outcome: -1}}},
		&warrantyv1.Cover{Name: "vehicles/AM0147P/covers/gearbox", Terms: []*warrantyv1.TermCover{{Term: "x"}}},
	} {
		raw, err := proto.Marshal(m)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		term, claim, cover := &warrantyv1.WarrantyTerm{}, &warrantyv1.Claim{}, &warrantyv1.Cover{}
		if proto.Unmarshal(raw, term) == nil {
			if read, err := warrantywire.Term(term); err == nil {
				warrantywire.TermProto(read)
			}
		}
		if proto.Unmarshal(raw, claim) == nil {
			if read, err := warrantywire.Claim(claim); err == nil {
				warrantywire.ClaimProto(&read)
			}
		}
		if proto.Unmarshal(raw, cover) == nil {
			if read, err := warrantywire.Cover(cover, func(string) (warranty.Term, bool) { return warranty.Term{}, false }); err == nil && read != nil {
				warrantywire.CoverProto("AM0147P", read)
			}
		}
	})
}
