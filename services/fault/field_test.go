package fault

import "testing"

func TestAFieldIsToldInOneLine(t *testing.T) {
	for name, c := range map[string]struct {
		field Field
		want  string
	}{
		"what was typed":               {Field{"role", "king", "a role"}, `role: got "king", want a role`},
		"nothing":                      {Field{"role", "", "a role"}, `role: got nothing, want a role`},
		"a value that is not repeated": {Field{"email", NotRepeated + ": 12 characters)", "an address"}, `email: got (not repeated here: 12 characters), want an address`},
		"a value that only looks like it at the beginning": {Field{"email", NotRepeated + ` "x`, "an address"}, `email: got "(not repeated here \"x", want an address`},
	} {
		if got := c.field.String(); got != c.want {
			t.Errorf("%s: got %s, want %s", name, got, c.want)
		}
	}
}
