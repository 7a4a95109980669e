package bulletinrpc_test

import (
	"errors"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const (
	issuedState = bulletinv1.BulletinState_BULLETIN_STATE_ISSUED
	draftState  = bulletinv1.BulletinState_BULLETIN_STATE_DRAFT
)

func TestAnIssuedCampaignHasItsListAndARepeatedRequestItsAnswer(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 4, 2)
	b := must(w.CreateBulletin(t.Context(), &bulletinv1.CreateBulletinRequest{Bulletin: ofLot("C-1")}))(t)
	if b.GetState() != draftState || len(w.listed(t, "C-1")) > 0 {
		t.Fatalf("a draft: %v with a list of %d", b.GetState(), len(w.listed(t, "C-1")))
	}
	r := &bulletinv1.IssueBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), RequestId: uuid.NewString()}
	b = must(w.IssueBulletin(t.Context(), r))(t)
	again := must(w.IssueBulletin(t.Context(), r))(t)
	if b.GetState() != issuedState || again.GetEtag() != b.GetEtag() || again.GetState() != issuedState {
		t.Errorf("got %v, then %v", b, again)
	}
	r.RequestId = uuid.NewString()
	_, err := w.IssueBulletin(t.Context(), r)
	refused(t, err, fault.Aborted, "ETAG_MISMATCH")
	r.Etag = b.GetEtag()
	if _, err = w.IssueBulletin(t.Context(), r); err == nil {
		t.Error("an issued version is issued again")
	}
	list := w.listed(t, "C-1")
	if len(list) != 2 || list[0].GetName() != "vehicles/"+serials[0]+"/followUps/C-1" || len(list[0].GetEnteredBecause()) == 0 || len(list[0].GetLetterDates()) == 0 {
		t.Errorf("the list: %v", list)
	}
	_, err = w.UpdateBulletin(t.Context(), &bulletinv1.UpdateBulletinRequest{Bulletin: b})
	refused(t, err, fault.FailedPrecondition, "NOT_A_DRAFT")
}

func TestAVehicleThatAComponentMovedToComesOnTheListOnceHoweverManyLook(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	data := t.TempDir()
	w := open(t, store, data)
	serials := w.fleet(t, 4, 1)
	w.issued(t, ofLot("C-1"))
	must(w.builds.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{
		Source: "builds/" + serials[0], SourcePosition: "gearbox", Destination: "builds/" + serials[2], DestinationPosition: "gearbox",
		MoveDate: on(2026, 11, 20), Reason: "to try it"}))(t)
	other := open(t, store, data) // another process over the same store
	var mu sync.Mutex
	var entered []*bulletinv1.FollowUp
	var looking sync.WaitGroup
	for i := range 8 {
		by := []*works{w, other}[i%2]
		looking.Go(func() {
			r, err := by.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{})
			if err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			defer mu.Unlock()
			entered = append(entered, r.GetEntered()...)
		})
	}
	looking.Wait()
	if len(entered) != 1 || entered[0].GetName() != "vehicles/"+serials[2]+"/followUps/C-1" {
		t.Errorf("entered: %v, want %s once", entered, serials[2])
	}
	list := w.listed(t, "C-1")
	if len(list) != 2 {
		t.Fatalf("on the list: %v", list)
	}
	for _, f := range list {
		n := 0
		for _, step := range f.GetSteps() {
			if step.GetKind() == bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_ENTERED {
				n++
			}
		}
		if n != 1 {
			t.Errorf("%s was entered %d times", f.GetName(), n)
		}
	}
	// The first, which has the unit no longer, stays.
	if f := list[0]; !f.GetNoLongerMeets() {
		t.Errorf("%s: %v", f.GetName(), f)
	}
}

func TestWhereUseCannotBeAskedNoCampaignIsHeldUpThatDoesNotAskIt(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 3, 1)
	w.issued(t, ofLot("C-1"))
	towing := ofLot("C-2")
	towing.Set = &bulletinv1.BulletinSet{Condition: &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Use{
		Use: &bulletinv1.UseCondition{Kinds: []schedulev1.UseKind{schedulev1.UseKind_USE_KIND_TOWING}}}}}
	w.issued(t, towing)
	w.mute.Store(true)
	must(w.builds.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{
		Source: "builds/" + serials[0], SourcePosition: "gearbox", Destination: "builds/" + serials[2], DestinationPosition: "gearbox",
		MoveDate: on(2026, 11, 20), Reason: "to try it"}))(t)
	if _, err := w.job.Refresh(t.Context(), nil); err == nil || !strings.Contains(err.Error(), "use facts are not told") {
		t.Errorf("a pass that could not ask says %v", err)
	}
	if list := w.listed(t, "C-1"); len(list) != 2 {
		t.Errorf("the campaign that asks for no use has %d on its list, want 2", len(list))
	}
	w.mute.Store(false)
	must(w.job.Refresh(t.Context(), nil))(t)
}

// What a process leaves that is killed while it writes a long list: the mark,
// and a part of the list.
func TestALongListThatWasCutShortCountsNotAtAllAndIsCarriedToItsEnd(t *testing.T) {
	const vehicles = 150
	for name, finish := range map[string]func(t *testing.T, w *works, r *bulletinv1.IssueBulletinRequest){
		"by the pass": func(t *testing.T, w *works, _ *bulletinv1.IssueBulletinRequest) {
			must(w.job.Refresh(t.Context(), nil))(t)
		},
		"by whoever asks again": func(t *testing.T, w *works, r *bulletinv1.IssueBulletinRequest) {
			must(w.IssueBulletin(t.Context(), r))(t)
		},
	} {
		t.Run(name, func(t *testing.T) {
			w := start(t)
			serials := w.fleet(t, vehicles, vehicles)
			b := must(w.CreateBulletin(t.Context(), &bulletinv1.CreateBulletinRequest{Bulletin: ofLot("C-1")}))(t)
			r := &bulletinv1.IssueBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), RequestId: uuid.NewString()}
			cutShort(t, w, r, serials[:40])

			if list := w.listed(t, "C-1"); len(list) > 0 {
				t.Errorf("half a list counts: %d", len(list))
			}
			_, err := w.GetFollowUp(t.Context(), &bulletinv1.GetFollowUpRequest{Name: "vehicles/" + serials[0] + "/followUps/C-1"})
			refused(t, err, fault.NotFound, "FOLLOW_UP_NOT_FOUND")
			if got := must(w.GetBulletin(t.Context(), &bulletinv1.GetBulletinRequest{Name: b.GetName()}))(t); got.GetState() != draftState {
				t.Errorf("it is %v", got.GetState())
			}
			changed := ofLot("C-1")
			changed.Etag = b.GetEtag()
			_, err = w.UpdateBulletin(t.Context(), &bulletinv1.UpdateBulletinRequest{Bulletin: changed})
			refused(t, err, fault.Aborted, "ETAG_MISMATCH")

			finish(t, w, r)
			if list := w.listed(t, "C-1"); len(list) != vehicles {
				t.Errorf("on the list: %d, want %d", len(list), vehicles)
			}
			again := must(w.IssueBulletin(t.Context(), r))(t)
			got := must(w.GetBulletin(t.Context(), &bulletinv1.GetBulletinRequest{Name: b.GetName()}))(t)
			if got.GetState() != issuedState || again.GetEtag() != got.GetEtag() || again.GetState() != issuedState {
				t.Errorf("got %v, and to the request %v", got, again)
			}
			if len(w.kept.Begun()) > 0 {
				t.Error("the mark is left behind")
			}
		})
	}
}

// cutShort writes what a process had written of a list when it was killed.
func cutShort(t *testing.T, w *works, r *bulletinv1.IssueBulletinRequest, written []string) {
	t.Helper()
	draft := w.kept.Version("C-1", 1)
	today := vehicle.DateOf(clock())
	if err := w.kept.Begin(t.Context(), draft, &bulletinv1.Issuing{Request: r, IssueDate: vehiclewire.DateProto(today)}); err != nil {
		t.Fatal(err)
	}
	b := must(bulletinwire.Bulletin(ofLot("C-1")))(t)
	var list []bulletin.FollowUp
	for _, s := range written {
		list = append(list, b.Enter(bulletin.Match{Serial: vehicle.Serial(s), State: bulletin.In}, today, clock()))
	}
	if err := w.kept.Enter(t.Context(), nil, draft, list[:min(len(list), bulletinstore.Few)]); err != nil {
		t.Fatal(err)
	}
}

func TestALongListIsIssuedWhole(t *testing.T) {
	w := start(t)
	w.fleet(t, 2*bulletinstore.Few+5, 2*bulletinstore.Few+5)
	w.issued(t, ofLot("C-1"))
	if list := w.listed(t, "C-1"); len(list) != 2*bulletinstore.Few+5 {
		t.Errorf("on the list: %d", len(list))
	}
	if r := must(w.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t); len(r.GetEntered()) > 0 || r.GetSteps() > 0 {
		t.Errorf("a pass with nothing to do: %v", r)
	}
}

func TestALeaderThatLostItsElectionEntersNobodyAndRecordsNothing(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 3, 1)
	w.issued(t, ofLot("C-1"))
	must(w.builds.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{
		Source: "builds/" + serials[0], SourcePosition: "gearbox", Destination: "builds/" + serials[2], DestinationPosition: "gearbox",
		MoveDate: on(2026, 11, 20), Reason: "to try it"}))(t)
	before := w.listed(t, "C-1")
	stale := kv.Fence{Key: kv.Prefix("elections") + "bulletin/gone", CreateRevision: 7}
	if out, err := w.job.Refresh(t.Context(), &stale); !errors.Is(err, kv.ErrNotLeader) || len(out.Entered)+out.Steps > 0 {
		t.Errorf("a stale leader: %v, %v", out, err)
	}
	after := w.listed(t, "C-1")
	if len(before) != 1 || len(after) != 1 || len(after[0].GetSteps()) != len(before[0].GetSteps()) {
		t.Errorf("it wrote: %v, then %v", before, after)
	}
	if out := must(w.job.Refresh(t.Context(), nil))(t); len(out.Entered) != 1 || out.Steps != 1 {
		t.Errorf("whoever asks: %v", out)
	}
}

func TestANewVersionTakesThePlaceOfTheOneBeforeAndKeepsWhoIsOnTheList(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 3, 1)
	w.issued(t, ofLot("C-1"))
	next := ofLot("C-1")
	next.Name = "bulletins/C-1/versions/2"
	next.Set = &bulletinv1.BulletinSet{Serials: []string{serials[0], serials[1]}}
	next = w.issued(t, next)
	first := must(w.GetBulletin(t.Context(), &bulletinv1.GetBulletinRequest{Name: "bulletins/C-1/versions/1"}))(t)
	holds := must(w.GetBulletin(t.Context(), &bulletinv1.GetBulletinRequest{Name: "bulletins/C-1/versions/-"}))(t)
	if first.GetState() != bulletinv1.BulletinState_BULLETIN_STATE_SUPERSEDED || holds.GetName() != next.GetName() {
		t.Errorf("got %v and %v", first, holds)
	}
	list := w.listed(t, "C-1")
	if len(list) != 2 || list[0].GetBulletin() != first.GetName() || list[1].GetBulletin() != next.GetName() {
		t.Errorf("the list: %v", list)
	}
	for _, bad := range []string{"bulletins/C-1/versions/2", "bulletins/C-1/versions/4", "bulletins/C-1/versions/-"} {
		b := ofLot("C-1")
		b.Name = bad
		if _, err := w.CreateBulletin(t.Context(), &bulletinv1.CreateBulletinRequest{Bulletin: b}); err == nil {
			t.Errorf("%s is made", bad)
		}
	}
	all := must(w.ListBulletins(t.Context(), &bulletinv1.ListBulletinsRequest{PageSize: 1}))(t)
	rest := must(w.ListBulletins(t.Context(), &bulletinv1.ListBulletinsRequest{PageSize: 1, PageToken: all.GetNextPageToken()}))(t)
	if all.GetBulletins()[0].GetName() != first.GetName() || rest.GetBulletins()[0].GetName() != next.GetName() || rest.GetNextPageToken() != "" {
		t.Errorf("listed: %v, then %v", all, rest)
	}
}
