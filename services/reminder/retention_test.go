package reminder_test

import (
	"testing"
	"time"

	"halfshaft/services/reminder"
)

func TestAMessageGoesTwoYearsAfterTheLastThatHappenedToIt(t *testing.T) {
	now := time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)
	old, late := now.AddDate(-2, 0, 0), now.AddDate(-2, 0, 0).Add(time.Second)
	for name, c := range map[string]struct {
		notice reminder.Notice
		want   bool
	}{
		"sent two years ago":                           {reminder.Notice{State: reminder.Sent, Claimed: old.AddDate(0, 0, -1), Sent: old}, true},
		"sent a second later":                          {reminder.Notice{State: reminder.Sent, Claimed: old, Sent: late}, false},
		"silenced two years ago":                       {reminder.Notice{State: reminder.Silenced, Claimed: old}, true},
		"parked, and tried again of late":              {reminder.Notice{State: reminder.Parked, Claimed: old, Retried: late}, false},
		"a letter that was printed late":               {reminder.Notice{State: reminder.Sent, Claimed: old, Printed: late}, false},
		"something came back of it of late":            {reminder.Notice{State: reminder.Sent, Claimed: old, Sent: old, Returns: []reminder.Return{{Time: late}}}, false},
		"one that still waits to be sent, however old": {reminder.Notice{State: reminder.Waiting, Claimed: old.AddDate(-1, 0, 0)}, false},
		"one of no time that anybody knows":            {reminder.Notice{State: reminder.Silenced}, false},
	} {
		if got := c.notice.Expired(now); got != c.want {
			t.Errorf("%s: got %v", name, got)
		}
	}
}

func TestATaskGoesAYearAfterItWasDone(t *testing.T) {
	now := time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		done time.Time
		want bool
	}{
		"it is to be done":        {time.Time{}, false},
		"done a year ago":         {now.AddDate(-1, 0, 0), true},
		"done a second afterward": {now.AddDate(-1, 0, 0).Add(time.Second), false},
	} {
		if got := (reminder.Task{Completed: c.done}).Expired(now); got != c.want {
			t.Errorf("%s: got %v", name, got)
		}
	}
}

func TestABareNoticeHasNoWordsAndNobodysAddress(t *testing.T) {
	full := reminder.Notice{
		MessageID: "<1@care.aldermoor.example>", ServerAnswer: "250 margaret@halloway.example", Language: "en",
		State: reminder.Sent, Returns: []reminder.Return{{Text: "margaret@halloway.example is unknown"}},
	}
	bare := full.Bare()
	if bare.MessageID != "" || bare.ServerAnswer != "" || bare.Language != "" || len(bare.Returns) != 1 || bare.Returns[0].Text != "" {
		t.Errorf("got %+v", bare)
	}
	if bare.State != reminder.Sent || full.Returns[0].Text == "" {
		t.Error("it changes what it is made from, or forgets that it was told")
	}
}
