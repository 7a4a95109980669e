package reminder

import "testing"

// FuzzParseOptOut holds to it that the identifier of an opt-out is taken apart
// into what ID puts together again.
func FuzzParseOptOut(f *testing.F) {
	for _, id := range []string{"AM0147P.p0031", "AM0147P.p0031.year-letter", "AM0147P.", "..", "AM0147P.p.x", "am0147p.p0031"} {
		f.Add(id)
	}
	f.Fuzz(func(t *testing.T, id string) {
		if o, ok := ParseOptOut(id); ok && (o.ID() != id || !o.Serial.Valid() || o.Person == "") {
			t.Errorf("%q is %+v, which is %q", id, o, o.ID())
		}
	})
}
