package jobsheetstore

import (
	"cmp"
	"iter"
	"slices"
	"sync"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// memory is what etcd holds, as last told. Its lists are replaced and never
// changed.
type memory struct {
	mu     sync.RWMutex
	sheets map[vehicle.Serial][]held // by number
}

func newMemory() *memory { return &memory{sheets: map[vehicle.Serial][]held{}} }

// held is a sheet in memory. One that is settled is seldom read and stays for
// ever: of it the head is at hand, and the rest as it is stored, which takes a
// third of what it takes as a message.
type held struct {
	Kept
	stored []byte // of one that is settled; else nil, and Message is whole
}

// hold takes a sheet in.
func hold(k Kept, stored []byte) held {
	from := k.Message.GetJobSheet()
	switch from.GetState() {
	case jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED, jobsheetv1.JobSheetState_JOB_SHEET_STATE_CANCELLED,
		jobsheetv1.JobSheetState_JOB_SHEET_STATE_STRUCK_OUT:
		k.Message = &jobsheetv1.KeptJobSheet{JobSheet: &jobsheetv1.JobSheet{Name: from.GetName(), State: from.GetState(), VisitDate: from.GetVisitDate(), CreateTime: from.GetCreateTime()}}
		return held{k, slices.Clone(stored)}
	}
	return held{k, nil}
}

// whole gives all of it.
func (h held) whole() (Kept, error) {
	k := h.Kept
	if h.stored == nil {
		return k, nil
	}
	k.Message = &jobsheetv1.KeptJobSheet{}
	return k, unmarshal(h.stored, k.Message)
}

// Apply implements projection.Handler.
func (m *memory) Apply(events []projection.Event, _ int64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, e := range events {
		serial, n, err := parse(e.Key)
		if err != nil {
			return err
		}
		sheets := slices.DeleteFunc(slices.Clone(m.sheets[serial]), func(h held) bool { return h.Number == n })
		if !e.Deleted {
			k := Kept{Serial: serial, Number: n, Message: &jobsheetv1.KeptJobSheet{}, Revision: e.ModRevision}
			if err := unmarshal(e.Value, k.Message); err != nil {
				return err
			}
			sheets = append(sheets, hold(k, e.Value))
			slices.SortFunc(sheets, func(a, b held) int { return cmp.Compare(a.Number, b.Number) })
		}
		m.sheets[serial] = sheets
	}
	return nil
}

// Known implements projection.Handler.
func (m *memory) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		m.mu.RLock()
		defer m.mu.RUnlock()
		for serial, sheets := range m.sheets {
			for _, k := range sheets {
				if !yield(sheetKey(serial, k.Number), k.Revision) {
					return
				}
			}
		}
	}
}

// Sheet gives one sheet.
func (s *Store) Sheet(serial vehicle.Serial, n int) (Kept, error) {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	for _, h := range s.memory.sheets[serial] {
		if h.Number == n {
			return h.whole()
		}
	}
	return Kept{}, fault.New(fault.NotFound, "JOB_SHEET_NOT_FOUND", "There is no job sheet %d of %s here.", n, serial)
}

// Next is the number of a vehicle's next sheet.
func (s *Store) Next(serial vehicle.Serial) int {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	of := s.memory.sheets[serial]
	if len(of) == 0 {
		return 1
	}
	return of[len(of)-1].Number + 1
}

// Sheets gives those that are kept of a vehicle, or of all for an empty serial,
// the last made first. Of those that are settled it gives name, state and days
// alone: Sheet has the rest.
func (s *Store) Sheets(serial vehicle.Serial, keep func(Kept) bool) []Kept {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	var out []Kept
	for of, sheets := range s.memory.sheets {
		if serial != "" && of != serial {
			continue
		}
		for _, h := range sheets {
			if keep(h.Kept) {
				out = append(out, h.Kept)
			}
		}
	}
	slices.SortFunc(out, Latest)
	return out
}

// Latest orders sheets, the last made first.
func Latest(a, b Kept) int {
	return cmp.Or(
		b.Message.GetJobSheet().GetCreateTime().AsTime().Compare(a.Message.GetJobSheet().GetCreateTime().AsTime()),
		cmp.Compare(a.Serial, b.Serial), cmp.Compare(b.Number, a.Number),
	)
}

// Underway gives the sheets whose return is being carried out, or struck out.
func (s *Store) Underway() []Kept {
	return s.Sheets("", func(k Kept) bool {
		switch k.Message.GetJobSheet().GetState() {
		case jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN, jobsheetv1.JobSheetState_JOB_SHEET_STATE_BEING_STRUCK_OUT:
			return true
		}
		return false
	})
}
