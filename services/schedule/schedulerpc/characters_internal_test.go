package schedulerpc

import (
	"strings"
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
)

func TestANoteIsLimitedInCharacters(t *testing.T) {
	for most, check := range map[int]func(*checker, string, string){maxNote: (*checker).note, maxName: (*checker).called} {
		c := &checker{}
		if check(c, "note", strings.Repeat("ü", most)); c.err() != nil {
			t.Errorf("%d characters: %v", most, c.err())
		}
		if check(c, "note", strings.Repeat("ü", most+1)); c.err() == nil || !strings.Contains(c.err().Error(), "00 characters") {
			t.Errorf("%d characters: %v", most+1, c.err())
		}
	}
}

// Each note may be long, and not all two hundred of them: a record, its
// answer and the part of an import that it comes back in have their size.
func TestAnEntryIsBoundedAsAWhole(t *testing.T) {
	find := func(id string) *schedule.Item { return &schedule.Item{ID: id} }
	entry := func(notes int) *schedulev1.ServiceEntry {
		m := &schedulev1.ServiceEntry{}
		for i := range notes {
			m.Items = append(m.Items, &schedulev1.ItemDone{ItemId: "T" + string(rune('A'+i%26)) + string(rune('A'+i/26)), Note: strings.Repeat("🚙", maxNote)})
		}
		return m
	}
	for notes, refused := range map[int]bool{20: false, 21: true} {
		c := &checker{}
		_, _ = checkEntry(c, entry(notes), find)
		got := false
		for _, f := range c.wrong {
			got = got || f.Name == "items" && f.Want == "at most 160 KiB"
		}
		if got != refused {
			t.Errorf("%d notes: refused is %v: %v", notes, got, c.wrong)
		}
	}
}
