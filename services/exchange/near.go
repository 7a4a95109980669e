package exchange

import (
	"cmp"
	"slices"
	"strings"
)

// mostNear is how many tables are named for one that is misspelt.
const mostNear = 3

// NearTables gives the names of the files that a name which is no table's may
// mean, the nearest first: those that are few slips away. It is empty when
// none is.
func NearTables(name string) []string {
	sought := strings.TrimRight(squeeze(name), "0123456789")
	if sought == "" {
		return nil
	}
	type near struct {
		name  string
		slips int
	}
	var found []near
	for _, t := range Tables() {
		is := squeeze(t.Name)
		if n := slips(sought, is); n <= max(1, len(is)/3) {
			found = append(found, near{t.FileName(), n})
		}
	}
	slices.SortStableFunc(found, func(a, b near) int { return cmp.Compare(a.slips, b.slips) })
	var out []string
	for _, f := range found[:min(len(found), mostNear)] {
		if f.slips <= found[0].slips+1 {
			out = append(out, f.name)
		}
	}
	return out
}

// slips counts the letters to put in, leave out or exchange, and the neighbours
// to swap, to make one word of the other.
func slips(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	above := make([]int, len(b)+1) // the row before the last
	for i := range len(a) {
		next := make([]int, len(b)+1)
		next[0] = i + 1
		for j := range len(b) {
			changed := row[j]
			if a[i] != b[j] {
				changed++
			}
			next[j+1] = min(changed, next[j]+1, row[j+1]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				next[j+1] = min(next[j+1], above[j-1]+1)
			}
		}
		above, row = row, next
	}
	return row[len(b)]
}
