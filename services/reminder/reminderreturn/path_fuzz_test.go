package reminderreturn

import (
	"strings"
	"testing"
)

// FuzzAddress holds to it that no address is read but those that we made: what
// is read is, whatever its case and its brackets, what Address or StopAddress
// gives for the same reference.
func FuzzAddress(f *testing.F) {
	for _, a := range []string{
		path.Address(theirs), path.StopAddress("abc"), "<" + strings.ToUpper(path.Address("a")) + ">", "returns@aldermoor.example",
		"returns+@aldermoor.example", "returns+a.b@aldermoor.example", "returns+a.b.c+d@e@f", strings.Repeat("+", 300),
	} {
		f.Add(a)
	}
	f.Fuzz(func(t *testing.T, address string) {
		ref, stop, ok := path.Read(address)
		if !ok {
			if ref != "" || stop {
				t.Errorf("%q is not ours, and gives %q, %v", address, ref, stop)
			}
			return
		}
		made := path.Address(ref)
		if stop {
			made = path.StopAddress(ref)
		}
		if strings.ToLower(strings.Trim(address, "<> ")) != made {
			t.Errorf("%q is read as %q, which is %q", address, ref, made)
		}
	})
}
