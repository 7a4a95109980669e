package schedulerpc

// Forget drops all that is kept of answers and histories, so that the next is
// worked out afresh.
func (s *Service) Forget() {
	for i := range s.seen {
		s.seen[i].forget()
	}
	s.listed.forget()
	s.near.forget()
	s.measured.forget()
	s.planning.forget()
	s.doubts.mu.Lock()
	s.doubts.by = nil
	s.doubts.mu.Unlock()
	s.pasts.mu.Lock()
	defer s.pasts.mu.Unlock()
	s.pasts.by = nil
}

func (k *kept[T]) forget() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.of = nil
}

// Kept counts what is kept: the answers of the fullest cache, and the histories.
func (s *Service) Kept() (answers, histories int) {
	for i := range s.seen {
		answers = max(answers, len(s.seen[i].of))
	}
	return max(answers, len(s.near.of), len(s.measured.of), len(s.listed.of), len(s.planning.of)), len(s.pasts.by)
}

// Bounds are the most of each.
const (
	MostAnswers   = mostToDo
	MostHistories = mostPasts
)
