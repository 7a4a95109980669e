package page

import (
	"errors"
	"slices"
	"testing"
)

func TestEveryPageIsAskedForOnceAndInOrder(t *testing.T) {
	pages := map[string]struct {
		entries   []int
		following string
	}{"": {[]int{1, 2}, "a"}, "a": {nil, "b"}, "b": {[]int{3}, ""}}
	var asked []string
	next := func(token string) ([]int, string, error) {
		asked = append(asked, token)
		return pages[token].entries, pages[token].following, nil
	}
	all, err := All(next)
	if err != nil || !slices.Equal(all, []int{1, 2, 3}) || !slices.Equal(asked, []string{"", "a", "b"}) {
		t.Errorf("got %v, %v after asking for %q", all, err, asked)
	}
	enough := errors.New("enough")
	asked = nil
	if err := Each(next, func(int) error { return enough }); !errors.Is(err, enough) || len(asked) != 1 {
		t.Errorf("got %v after asking for %q, want the taker's error at once", err, asked)
	}
	if _, err := All(func(string) ([]int, string, error) { return []int{1}, "a", enough }); !errors.Is(err, enough) {
		t.Errorf("got %v, want the lister's error", err)
	}
}
