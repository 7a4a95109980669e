package upkeep

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.etcd.io/etcd/api/v3/etcdserverpb"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
)

func never() bool { return false }

func TestAFullStoreRecoversByItself(t *testing.T) {
	s := etcdtest.StartIn(t, embedetcd.Config{Dir: t.TempDir(), QuotaBytes: 8 << 20})
	var said journal
	c := lookAfter(t, s)
	c.Logger = said.logger()
	fill(t, c.Client, 3, never)
	if diff := cmp.Diff([]string{"NOSPACE"}, s.Alarms()); diff != "" {
		t.Fatal(diff)
	}
	w := &watch{Config: c.normal()}
	w.look(t.Context())
	if got := s.Alarms(); len(got) != 0 {
		t.Errorf("alarms after the recovery: %v", got)
	}
	put(t, c.Client, "/again", "x")
	lines := strings.Join(said.take(), "\n")
	if !strings.Contains(lines, "making room") || strings.Contains(lines, "level=ERROR") {
		t.Errorf("it said:\n%s", lines)
	}
}

func TestAStoreFullOfRecordsStaysFullAndIsNotMadeToWaitAtEachLook(t *testing.T) {
	s := etcdtest.StartIn(t, embedetcd.Config{Dir: t.TempDir(), QuotaBytes: 8 << 20})
	var said journal
	c := lookAfter(t, s)
	c.Logger = said.logger()
	now := day
	c.Clock = func() time.Time { return now }
	fill(t, c.Client, math.MaxInt, never) // every key once: nothing to compact
	w := &watch{Config: c.normal()}
	for _, step := range []struct {
		name  string
		later time.Duration
		want  []string
	}{
		{"at the first look", 0, []string{"making room", "the records themselves fill the quota"}},
		{"three minutes later", 3 * time.Minute, nil},
		{"after an hour", time.Hour, []string{"making room", "the records themselves fill the quota"}},
	} {
		now = day.Add(step.later)
		w.look(t.Context())
		lines := said.take()
		if len(lines) != len(step.want) {
			t.Errorf("%s it said %q, want %d lines", step.name, lines, len(step.want))
			continue
		}
		for i := range lines {
			if !strings.Contains(lines[i], step.want[i]) {
				t.Errorf("%s it said %q, want %q", step.name, lines[i], step.want[i])
			}
		}
	}
	if diff := cmp.Diff([]string{"NOSPACE"}, s.Alarms()); diff != "" {
		t.Error("an alarm with its cause still there was lowered: " + diff)
	}
}

func TestACorruptStoreIsNeitherDisarmedNorCopied(t *testing.T) {
	s := etcdtest.Start(t)
	var said journal
	c := lookAfter(t, s)
	c.Logger = said.logger()
	raise(t, s, etcdserverpb.AlarmType_NOSPACE)
	raise(t, s, etcdserverpb.AlarmType_CORRUPT)
	(&watch{Config: c.normal()}).look(t.Context())
	if err := s.Disarm(t.Context()); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"CORRUPT"}, s.Alarms()); diff != "" {
		t.Error(diff)
	}
	lines := said.take()
	if len(lines) != 1 || !strings.Contains(lines[0], "level=ERROR") || !strings.Contains(lines[0], "restore the newest snapshot") {
		t.Errorf("it said %q", lines)
	}
	if _, err := Take(t.Context(), c); reason(err) != "STORE_CORRUPT" {
		t.Errorf("got %v", err)
	}
}

// raise sets an alarm as a member of a cluster would.
func raise(t *testing.T, s *embedetcd.Server, alarm etcdserverpb.AlarmType) {
	t.Helper()
	conn, err := grpc.NewClient(s.Endpoint(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	status, err := s.Client().Status(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	_, err = etcdserverpb.NewMaintenanceClient(conn).Alarm(t.Context(), &etcdserverpb.AlarmRequest{
		Action: etcdserverpb.AlarmRequest_ACTIVATE, MemberID: status.Header.MemberId, Alarm: alarm,
	})
	if err != nil {
		t.Fatal(err)
	}
}

// of makes the state of a store with a quota of 100 MiB.
func of(file, inUse int64, alarms ...string) state {
	return state{embedetcd.Usage{File: file << 20, InUse: inUse << 20, Quota: 100 << 20}, alarms}
}

func TestTheWatchSaysWhatToDo(t *testing.T) {
	for name, c := range map[string]struct {
		state    state
		embedded bool
		want     level
		advice   string // a part of it
	}{
		"under 80 %":                             {of(79, 79), true, fine, ""},
		"80 %, most of it free pages":            {of(80, 20), true, nearly, "given back in the coming night"},
		"80 % of records":                        {of(90, 80), true, nearly, "The store is full"},
		"80 % on a cluster":                      {of(80, 20), false, nearly, "defragment each member"},
		"full, and free pages are there":         {of(100, 20, "NOSPACE"), true, full, "within the hour"},
		"full of records":                        {of(100, 99, "NOSPACE"), true, full, "records themselves"},
		"full on a cluster":                      {of(100, 20, "NOSPACE"), false, full, "defragment each member"},
		"full and corrupt":                       {of(100, 20, "NOSPACE", "CORRUPT"), true, corrupt, "restore the newest snapshot"},
		"a cluster that does not tell its quota": {state{usage: embedetcd.Usage{File: 1}}, false, fine, ""},
	} {
		t.Run(name, func(t *testing.T) {
			if got := c.state.level(); got != c.want {
				t.Errorf("got the level %d, want %d", got, c.want)
			}
			got := c.state.advice(c.embedded)
			if !strings.Contains(got, c.advice) || c.advice == "" && got != "" {
				t.Errorf("got %q, want %q in it", got, c.advice)
			}
		})
	}
}

func TestATroubleIsSaidWhenItChangesAndEveryHour(t *testing.T) {
	var said journal
	now := day
	w := &watch{Config: Config{Clock: func() time.Time { return now }, Logger: said.logger()}}
	for _, step := range []struct {
		minute int
		state  state
		want   string // a part of the one line; "" for none
	}{
		{0, of(10, 10), ""},
		{3, of(80, 20), "level=WARN msg=\"the store is nearly full\" mib=80 mib_in_use=20 mib_quota=100"},
		{6, of(81, 20), ""},
		{62, of(81, 20), ""},
		{63, of(81, 20), "nearly full"},
		{66, of(100, 20, "NOSPACE"), "level=ERROR msg=\"the store is full"},
		{69, of(20, 20), "room again"},
		{72, of(20, 20), ""},
		{75, of(80, 20), "nearly full"},
		{15, of(80, 20), "nearly full"}, // the clock was set back by an hour
	} {
		now = day.Add(time.Duration(step.minute) * time.Minute)
		w.say(step.state)
		switch lines := said.take(); {
		case step.want == "" && len(lines) == 0:
		case step.want != "" && len(lines) == 1 && strings.Contains(lines[0], step.want):
		default:
			t.Errorf("in minute %d it said %q, want %q", step.minute, lines, step.want)
		}
	}
}
