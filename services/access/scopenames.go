package access

import (
	"slices"
	"strings"

	"halfshaft/services/fault"
)

// ScopeNames gives every scope that a key can have, in order: each service of
// the table, and what of it only reads.
func ScopeNames() []string {
	var names []string
	for method := range Table() {
		if rest, ours := strings.CutPrefix(method, ourPackages); ours {
			service, _, _ := strings.Cut(rest, ".")
			names = append(names, service, service+reading)
		}
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// properScopes puts scopes in order, each once, and says which are none. A
// service makes what of it only reads needless.
func properScopes(scopes []string) ([]string, []fault.Field) {
	if len(scopes) == 0 {
		return nil, nil
	}
	known := ScopeNames()
	var proper []string
	var faults []fault.Field
	for _, s := range scopes {
		if _, ok := slices.BinarySearch(known, s); !ok {
			faults = append(faults, fault.Field{Name: "scopes", Got: s, Want: "among " + strings.Join(known, ", ")})
			continue
		}
		if service, reads := strings.CutSuffix(s, reading); !reads || !slices.Contains(scopes, service) {
			proper = append(proper, s)
		}
	}
	slices.Sort(proper)
	return slices.Compact(proper), faults
}
