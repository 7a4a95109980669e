package works_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

func TestFormsAskForWhatFitsAndKeepWhatWasTyped(t *testing.T) {
	d := openDesk(t)
	b, _ := d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
	asks := func(page string, wanted string) {
		t.Helper()
		var got []string
		for _, name := range []string{"key.title", "key.bearer", "key.account", "key.organisation", "key.person", "account.name", "account.organisation"} {
			if strings.Contains(page, `id="key-`+name+`"`) || strings.Contains(page, `id="account-`+name+`"`) {
				got = append(got, name)
			}
		}
		if text := strings.Join(got, " "); text != wanted {
			t.Errorf("it asks for %q, want %q", text, wanted)
		}
	}
	read := func(path string) string {
		t.Helper()
		a, page := b.get(path)
		if a.StatusCode != http.StatusOK {
			t.Errorf("%s: got %d", path, a.StatusCode)
		}
		return page
	}
	// Without an organisation there is nobody of a dealer's.
	if page := read("/accounts?for=dealer"); !strings.Contains(page, "need an organisation first") {
		t.Errorf("got %s", page)
	} else {
		asks(page, "account.name")
	}
	if page := read("/keys/new/dealer"); !strings.Contains(page, "There is no organisation yet") || strings.Contains(page, "Make the key") {
		t.Errorf("got %s", page)
	}
	d.dealers("ferncombe")
	asks(read("/accounts"), "account.name")
	asks(read("/accounts?for=dealer"), "account.name account.organisation")
	asks(read("/keys/new/machine"), "key.title key.bearer")
	asks(read("/keys/new/account"), "key.title key.account")
	asks(read("/keys/new/dealer"), "key.title key.bearer key.organisation")
	asks(read("/keys/new/owner"), "key.title key.person")
	if a, _ := b.get("/keys/new/everybody"); a.StatusCode != http.StatusNotFound {
		t.Errorf("a kind that is none: %d", a.StatusCode)
	}

	typed := url.Values{"for": {"dealer"}, "key.title": {"bench tablet"}, "key.role": {"dealer"}, "key.organisation": {"organisations/ferncombe"}, "key.bearer": {"tablet 1"}, "key.scopes": {"shedule"}, "key.expire_time": {"2027-03-31"}}
	a, page := b.send("/keys", typed)
	if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "key-key.scopes-wrong") {
		t.Errorf("got %d: %s", a.StatusCode, page)
	}
	asks(page, "key.title key.bearer key.organisation")
	for _, want := range []string{`value="bench tablet"`, `value="organisations/ferncombe" selected`, `value="tablet 1"`, `value="shedule"`, `value="2027-03-31"`} {
		if !strings.Contains(page, want) {
			t.Errorf("what was typed is lost: %s", want)
		}
	}
	for _, made := range []url.Values{
		{"for": {"dealer"}, "key.title": {"bench tablet"}, "key.role": {"dealer"}, "key.organisation": {"organisations/ferncombe"}, "key.bearer": {"tablet 1"}, "key.scopes": {"schedule"}},
		{"for": {"account"}, "key.title": {"own"}, "key.account": {"accounts/ida"}},
		{"for": {"machine"}, "key.title": {"counter"}, "key.role": {"support"}, "key.bearer": {"counter"}},
		{"for": {"owner"}, "key.title": {"their telephone"}, "key.role": {"owner"}, "key.person": {"p0031"}},
	} {
		a, page := b.send("/keys", made)
		if a.StatusCode != http.StatusOK || !strings.Contains(page, "shown this once") || strings.Count(page, "hsk_") != 1 || !strings.Contains(page, "readonly") {
			t.Errorf("%v: got %d: %s", made, a.StatusCode, page)
		}
	}
	if page := read("/keys"); !strings.Contains(page, "owner p0031") || !strings.Contains(page, "dealer at ferncombe") {
		t.Errorf("the list does not say whose keys they are: %s", page)
	}
	// The kinds of accounts keep apart after an error too.
	_, page = b.send("/accounts", url.Values{"account.name": {"N"}, "account.full_name": {"Ned Larkrise"}, "account.role": {"dealer"}, "account.organisation": {"organisations/ferncombe"}})
	asks(page, "account.name account.organisation")
	if !strings.Contains(page, "Ned Larkrise") || !strings.Contains(page, "account-account.name-wrong") {
		t.Errorf("got %s", page)
	}
}
