package access

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
)

func TestAnIdentifierIsShortPlainAndBeginsWithALetter(t *testing.T) {
	for id, want := range map[string][2]bool{ // of an organisation, of an account
		"ferncombe": {true, true}, "f-1": {true, true}, "ab": {false, true}, "a": {false, false}, "": {false, false},
		strings.Repeat("a", 40): {true, true}, strings.Repeat("a", 41): {false, false},
		"1ab": {false, false}, "-ab": {false, false}, "Abc": {false, false}, "ab c": {false, false}, "ab/c": {false, false},
		"a.b": {false, true}, "a_b": {false, false}, "añb": {false, false}, "abc\n": {false, false},
	} {
		_, organisation := OrganisationID("organisations/" + id)
		_, account := AccountID("accounts/" + id)
		if got := [2]bool{organisation, account}; got != want {
			t.Errorf("%q: got %v, want %v", id, got, want)
		}
	}
	for _, name := range []string{"ferncombe", "accounts/ferncombe", "organisations/", "organisations/a/b"} {
		if id, ok := OrganisationID(name); ok {
			t.Errorf("%q names the organisation %q", name, id)
		}
	}
}

func TestAnOrganisationOrAccountIsCompletedOrRefused(t *testing.T) {
	for _, c := range []struct {
		name   string
		o      Organisation
		faults string
	}{
		{"an organisation", Organisation{ID: "ferncombe", Title: " Ferncombe Garage "}, ""},
		{"everything wrong", Organisation{ID: "F", Title: "a\nb"}, "name title"},
		{"no title", Organisation{ID: "ferncombe"}, "title"},
	} {
		o, faults := ProposedOrganisation(c.o)
		if got := fieldsOf(faults); got != c.faults || strings.TrimSpace(o.Title) != o.Title {
			t.Errorf("%s: got %q, want %q; %q", c.name, got, c.faults, o.Title)
		}
	}
	for _, c := range []struct {
		name   string
		a      Account
		faults string
	}{
		{"staff", Account{ID: "ida", FullName: "Ida Brackenbury", Role: Support}, ""},
		{"a dealer's", Account{ID: "ned", FullName: "Ned Ferncombe", Role: Dealer, Organisation: "organisations/ferncombe"}, ""},
		{"a dealer's without organisation", Account{ID: "ned", FullName: "N", Role: Dealer}, "organisation"},
		{"staff of an organisation", Account{ID: "ned", FullName: "N", Role: Engineer, Organisation: "organisations/ferncombe"}, "organisation"},
		{"an owner's", Account{ID: "ned", FullName: "N", Role: Owner}, "role"},
		{"a service's", Account{ID: "ned", FullName: "N", Role: Service}, "role"},
		{"everything wrong", Account{ID: "N", FullName: "\x00", Organisation: "x"}, "name full_name role organisation"},
	} {
		if _, faults := ProposedAccount(c.a); fieldsOf(faults) != c.faults {
			t.Errorf("%s: got %q, want %q", c.name, fieldsOf(faults), c.faults)
		}
	}
}

func TestAKeyIsOfItsHolder(t *testing.T) {
	dealer := Key{Title: "bench", Role: Dealer, Organisation: "organisations/ferncombe", Bearer: "bench 1"}
	with := func(change func(*Key)) Key { k := dealer; change(&k); return k }
	for _, c := range []struct {
		name   string
		key    Key
		faults string
		bearer string
	}{
		{"a dealer's", dealer, "", "bench 1"},
		{"a dealer's without organisation", with(func(k *Key) { k.Organisation = "" }), "organisation", ""},
		{"staff's of an organisation", with(func(k *Key) { k.Role = Support }), "organisation", ""},
		{"an account's is called by it", with(func(k *Key) { k.Account, k.Bearer = "accounts/ned", "" }), "", "ned"},
		{"an account's is called nothing else", with(func(k *Key) { k.Account = "accounts/ned" }), "bearer", ""},
		{"an account that is none", with(func(k *Key) { k.Account = "ned" }), "account", ""},
		{"an owner has no account", Key{Title: "t", Role: Owner, Person: "people/p1", Account: "accounts/ned"}, "account", ""},
		{"scopes", with(func(k *Key) { k.Scopes = []string{"schedule", "parts.read"} }), "", "bench 1"},
		{"scopes that are none", with(func(k *Key) { k.Scopes = []string{"schedule.write", "parts", ""} }), "scopes scopes", ""},
	} {
		k, faults := Proposed(c.key, noon)
		if got := fieldsOf(faults); got != c.faults || c.faults == "" && k.Bearer != c.bearer {
			t.Errorf("%s: got %q, want %q; bearer %q", c.name, got, c.faults, k.Bearer)
		}
	}
	k := dealer
	k.ID, k.Account = "0123abcd", "accounts/ned"
	want := Caller{Role: Dealer, Bearer: "bench 1", Organisation: "organisations/ferncombe", Account: "accounts/ned", Credential: "keys/0123abcd"}
	if got := k.Caller(); got != want {
		t.Errorf("got %+v", got)
	}
}

func TestScopesArePutInOrderEachOnce(t *testing.T) {
	k, faults := Proposed(Key{Title: "t", Role: Support, Bearer: "b", Scopes: []string{"schedule.read", "parts.read", "schedule", "parts.read"}}, noon)
	if len(faults) > 0 || !slices.Equal(k.Scopes, []string{"parts.read", "schedule"}) {
		t.Errorf("got %v, %v", k.Scopes, faults)
	}
	if names := ScopeNames(); !slices.Contains(names, "schedule.read") || !slices.Contains(names, "access") || slices.Contains(names, "grpc") {
		t.Errorf("got %v", names)
	}
}

func TestAKeyIsReplacedWhileTwoAreGoodAtMost(t *testing.T) {
	key := Key{ID: "0000000a", Title: "t", Role: Support, Bearer: "b", Scopes: []string{"parts"}, Created: noon.AddDate(0, -1, 0), Digest: Digest{1}}
	year := key
	year.Expires = noon.Add(24 * time.Hour)
	with := func(k Key, change func(*Key)) Key { change(&k); return k }
	for _, c := range []struct {
		name    string
		key     Key
		near    []Key
		overlap time.Duration
		reason  string
		ends    time.Time // of the older
		lasts   time.Time // the newer; zero: for ever
	}{
		{"one without end", key, nil, UsualOverlap, "", noon.Add(UsualOverlap), time.Time{}},
		{"at once", key, nil, 0, "", noon, time.Time{}},
		{"the longest overlap", key, nil, LongestOverlap, "", noon.Add(LongestOverlap), time.Time{}},
		{"a longer one", key, nil, LongestOverlap + 1, "INVALID_FIELD", noon, noon},
		{"one in the past", key, nil, -1, "INVALID_FIELD", noon, noon},
		{"one that ends sooner", year, nil, UsualOverlap, "", year.Expires, noon.Add(year.Expires.Sub(year.Created))},
		{"one that is revoked", with(key, func(k *Key) { k.Revoked = noon }), nil, 0, "KEY_ENDED", noon, noon},
		{"one that expired", with(key, func(k *Key) { k.Expires = noon }), nil, 0, "KEY_ENDED", noon, noon},
		{"one whose successor is good", key, []Key{{Rotates: key.ID}}, 0, "KEY_ROTATING", noon, noon},
		{"one whose successor was revoked", key, []Key{{Rotates: key.ID, Revoked: noon}}, 0, "", noon, time.Time{}},
		{"one that replaces a key which is good", key, []Key{{ID: "0000000b", Expires: noon.Add(1)}}, 0, "KEY_ROTATING", noon, noon},
		{"one that replaces a key which ended", key, []Key{{ID: "0000000b", Expires: noon}}, 0, "", noon, time.Time{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			older, newer, err := Rotated(c.key, c.near, c.overlap, noon)
			if c.reason != "" {
				if f, ok := err.(*fault.Error); !ok || f.Reason != c.reason {
					t.Errorf("got %v, want %s", err, c.reason)
				}
				return
			}
			if err != nil || !older.Expires.Equal(c.ends) || !newer.Expires.Equal(c.lasts) {
				t.Errorf("%v: the older until %s, want %s; the newer until %s, want %s", err, older.Expires, c.ends, newer.Expires, c.lasts)
			}
			if newer.Rotates != c.key.ID || newer.ID != "" || newer.Digest != (Digest{}) || newer.Created != noon ||
				newer.Title != c.key.Title || newer.Role != c.key.Role || !slices.Equal(newer.Scopes, c.key.Scopes) {
				t.Errorf("got %+v", newer)
			}
		})
	}
}

// However often keys of a line are replaced, revoked and left alone, no more
// than two of them open the door.
func TestNeverMoreThanTwoKeysOfALineAreGood(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := noon
		line := []Key{{ID: "0", Created: now}}
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(0, 40).Draw(t, "days")) * 24 * time.Hour)
			i := rapid.IntRange(0, len(line)-1).Draw(t, "which")
			if rapid.IntRange(0, 3).Draw(t, "act") == 0 {
				line[i].Revoked = now
			} else {
				var near []Key
				for _, k := range line {
					if k.Rotates == line[i].ID || k.ID == line[i].Rotates {
						near = append(near, k)
					}
				}
				older, newer, err := Rotated(line[i], near, time.Duration(rapid.IntRange(0, 90).Draw(t, "overlap"))*24*time.Hour, now)
				if err == nil {
					newer.ID = string(rune('0' + len(line)))
					line[i] = older
					line = append(line, newer)
				}
			}
			live := 0
			for _, k := range line {
				if k.Live(now) {
					live++
				}
			}
			if live > 2 {
				t.Fatalf("%d are good: %+v", live, line)
			}
		}
	})
}
