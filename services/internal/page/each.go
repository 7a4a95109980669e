package page

// Each calls a list method until its last page and hands every entry on. next
// asks for the page of a token, which is empty for the first, and gives the
// token of the one after; an error of either ends it.
func Each[T any](next func(token string) (entries []T, following string, err error), take func(T) error) error {
	for token := ""; ; {
		entries, following, err := next(token)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if err := take(e); err != nil {
				return err
			}
		}
		if token = following; token == "" {
			return nil
		}
	}
}

// All is Each for a list that is small enough to be held.
func All[T any](next func(token string) (entries []T, following string, err error)) ([]T, error) {
	var all []T
	err := Each(next, func(e T) error {
		all = append(all, e)
		return nil
	})
	return all, err
}
