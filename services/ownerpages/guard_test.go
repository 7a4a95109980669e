package ownerpages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"halfshaft/services/internal/links"
)

func TestAnAddressThatSendsTooMuchWaits(t *testing.T) {
	d, server := newDesk(t)
	for path, most := range map[string]int{"/take-over": 8, "/l/" + token(t, links.Unsubscribe, now.Add(24*time.Hour)): 30} {
		from := "203.0.113.7" // RFC 5737: an address that nobody has
		send := func(from string) answer {
			return post(t, server.URL+path, url.Values{}, "X-Forwarded-For", "198.51.100.1, "+from)
		}
		for n := range most {
			if a := send(from); a.StatusCode == http.StatusTooManyRequests {
				t.Fatalf("%s: refused after %d", path[:4], n)
			}
		}
		a := send(from)
		wait, err := strconv.Atoi(a.Header.Get("Retry-After"))
		if a.StatusCode != http.StatusTooManyRequests || err != nil || wait < 1 || wait > 31 {
			t.Fatalf("%s: got %d, Retry-After %q", path[:4], a.StatusCode, a.Header.Get("Retry-After"))
		}
		// Looking is not limited, and others are not held up.
		if get(t, server.URL+path, "X-Forwarded-For", from).StatusCode != http.StatusOK || send("203.0.113.8").StatusCode == http.StatusTooManyRequests {
			t.Errorf("%s: others wait too", path[:4])
		}
		// After the time told there is one more, and no second.
		d.mu.Lock()
		d.now = d.now.Add(time.Duration(wait) * time.Second)
		d.mu.Unlock()
		if send(from).StatusCode == http.StatusTooManyRequests || send(from).StatusCode != http.StatusTooManyRequests {
			t.Errorf("%s: after %d s it is not one more", path[:4], wait)
		}
	}
}

// RFC 6177: a household has a /64 at least; RFC 3849 for the addresses.
func TestAHouseholdIsOneAddress(t *testing.T) {
	_, server := newDesk(t)
	refused := 0
	for n := range 9 {
		if post(t, server.URL+"/take-over", url.Values{}, "X-Forwarded-For", fmt.Sprintf("2001:db8:1:2::%x", n+1)).StatusCode == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused != 1 {
		t.Errorf("%d of 9 refused, want the last", refused)
	}
	if a := post(t, server.URL+"/take-over", url.Values{}, "X-Forwarded-For", "2001:db8:1:3::1"); a.StatusCode == http.StatusTooManyRequests {
		t.Error("the neighbours are refused")
	}
}

func FuzzForms(f *testing.F) {
	for _, purpose := range purposes {
		f.Add(byte(purpose), formType, "value=3%2C150&unit=km&date=2026-05-18&day=2026-06-01&item=E01.2025-06-10")
		f.Add(byte(purpose), formType, "do=undo&answer=vehicles%2FAM0147P%2Fanswers%2F0&transfer=vehicles%2FAM0147P%2Ftransfers%2F0")
		f.Add(byte(purpose), "multipart/form-data; boundary=x", "--x\r\nContent-Disposition: form-data; name=\"value\"\r\n\r\n12\r\n--x--\r\n")
	}
	f.Add(byte('T'), formType, "serial=AM0147P&code=x&name=x&zone=Europe/London&language=en&unit=mi&consent-mail=no&consent-text=no&consent-year=no")
	f.Add(byte('o'), "multipart/form-data", "--x")
	f.Add(byte('p'), formType, "do=settings&language=de&unit=km&way=text&from=9&until=99&most=-1&consent-text=yes&etag=1")
	f.Add(byte('p'), formType, "do=contact&proof=1+Invented+Row&email=a%40b&phone=%2B49&postal=%0D%0A%0Dx&zone=Europe%2FBerlin&etag=1")
	f.Add(byte('p'), formType, "do=withdraw")
	f.Add(byte('o'), formType, "value=%ff&a=%00;b")
	d, server := newDesk(f)
	d.known()
	d.read("2026-05-01", "12000", "km")
	f.Fuzz(func(t *testing.T, purpose byte, contentType, body string) {
		if strings.ContainsAny(contentType, "\r\n\x00") || strings.TrimFunc(contentType, func(r rune) bool { return r >= ' ' && r < 0x7f }) != "" {
			t.Skip("no header")
		}
		address := server.URL + "/take-over"
		if purpose != 'T' {
			address = server.URL + "/l/" + tokenFor(t, links.Purpose(purpose), links.Target{Serial: theSerial, Person: "p0031", Notice: theNotice}, now.Add(24*time.Hour))
		}
		d.mu.Lock()
		d.now, d.owner, d.epoch = now, "p0031", 0
		d.mu.Unlock()
		a := do(t, "POST", address, contentType, body, "X-Forwarded-For", fmt.Sprintf("203.0.113.%d", len(body)%250))
		if a.StatusCode >= 500 {
			t.Errorf("%c, %q, %q: got %d", purpose, contentType, body, a.StatusCode)
		}
	})
}
