package accesswire

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"halfshaft/services/access"
	"halfshaft/services/vehicle"
)

// What is written is read again as it was, every field of it: a record that lost
// one on the way through the store would open or shut the wrong door.
func TestWhatIsWrittenIsReadAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := func(label string) string { return rapid.StringMatching(`[a-z]{3,8}`).Draw(t, label) }
		when := func(label string) time.Time {
			if rapid.Bool().Draw(t, label+" unset") {
				return time.Time{}
			}
			return time.Unix(rapid.Int64Range(0, 4e9).Draw(t, label), 0).UTC()
		}
		role := access.Role(rapid.IntRange(1, 6).Draw(t, "role"))
		key := access.Key{
			ID: "0123abcd", Title: text("title"), Role: role, Person: "people/" + text("person"), Organisation: "organisations/" + text("organisation"),
			Account: "accounts/" + text("account"), Bearer: text("bearer"), Scopes: []string{text("scope")}, Rotates: "0000000a",
			Created: when("created"), Expires: when("expires"), Revoked: when("revoked"), Digest: access.DigestOf(text("secret")),
		}
		if diff := cmp.Diff(key, Key(KeyWithDigest(key))); diff != "" {
			t.Errorf("a key:\n%s", diff)
		}
		o := access.Organisation{ID: text("id"), Title: text("title"), Created: when("made"), Closed: when("closed")}
		if rapid.Bool().Draw(t, "published") {
			o.Contact = access.Contact{
				Address: []string{text("street")}, Town: text("town"), Country: "GB", Phone: "+441632960999", Email: text("mail"), Work: text("work"),
				At: &access.Location{Latitude: rapid.Float64Range(-90, 90).Draw(t, "latitude"), Longitude: rapid.Float64Range(-180, 180).Draw(t, "longitude")},
			}
		}
		if diff := cmp.Diff(o, Organisation(OrganisationProto(o))); diff != "" {
			t.Errorf("an organisation:\n%s", diff)
		}
		account := access.Account{ID: text("id"), FullName: text("name"), Role: role, Organisation: o.Name(), Created: when("made"), Closed: when("closed")}
		if diff := cmp.Diff(account, Account(AccountProto(account))); diff != "" {
			t.Errorf("an account:\n%s", diff)
		}
		start := vehicle.MustDate(2026, time.May, 18).AddDays(rapid.IntRange(-999, 999).Draw(t, "start"))
		a := access.Assignment{
			ID: text("id"), Vehicle: "AM0101G", Organisation: o.Name(), Ground: access.Ground(rapid.IntRange(0, 3).Draw(t, "ground")),
			ConsentedBy: text("by"), Start: start, Last: start.AddDays(30), Purpose: text("purpose"), RecordedBy: text("recorded"), Created: when("made"),
		}
		if rapid.Bool().Draw(t, "ended") {
			a.End = access.AssignmentEnd{Time: time.Unix(1e9, 0).UTC(), Complete: rapid.Bool().Draw(t, "complete"), Reason: text("why"), RecordedBy: text("ender")}
		}
		back, err := Assignment(AssignmentProto(a))
		if diff := cmp.Diff(a, back); err != nil || diff != "" {
			t.Errorf("an assignment: %v\n%s", err, diff)
		}
	})
}
