package sitetest

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"
)

// sheet is a page of a site as somebody opens it.
type sheet struct {
	pattern string // of the route that answers, as net/http writes it
	as      who
	path    string // where it differs from the pattern's; {words} are filled from what the demo has
	send    string // the form that is sent as it stands, by its CSS selector: the page is what comes of it
	status  int    // that it comes with; 0 for 200
	book    bool   // it is a whole handbook
	whole   bool   // it shows part by part what one thing consists of
}

// deskPages are the pages of the desk: each route has a row, and one for each way
// in which its page looks altogether different.
var deskPages = []sheet{
	// Signed out.
	{pattern: "GET /sign-in", as: nobody},
	{pattern: "GET /sign-in", as: nobody, send: `form[action="/sign-in"]:has([name=password])`, status: 401},
	{pattern: "GET /invitation", as: nobody, status: 401},
	{pattern: "GET /invitation/{secret}", as: nobody, path: "/invitation/{invitation}"},
	{pattern: "GET /invitation/{secret}", as: nobody, path: "/invitation/{invitation}", send: `form[action="/invitation/password"]`, status: 422},

	// One's own.
	{pattern: "GET /{$}", as: administrator},
	{pattern: "GET /{$}", as: engineer},
	{pattern: "GET /{$}", as: support},
	{pattern: "GET /{$}", as: dealer},
	{pattern: "GET /account", as: support},
	{pattern: "GET /account", as: dealer},

	// Vehicles.
	{pattern: "GET /find", as: support, path: "/find?q=wheel"},
	{pattern: "GET /find", as: support, path: "/find?q=zzgnarl"},
	{pattern: "GET /find", as: support, path: "/find?q=AMO1O1G"},
	{pattern: "GET /vehicles/{serial}", as: support},
	{pattern: "GET /vehicles/{serial}", as: dealer},
	{pattern: "GET /vehicles/{serial}", as: engineer, path: "/vehicles/{claimed}"},
	{pattern: "GET /vehicles/{serial}", as: support, path: "/vehicles/AM0143X"},              // scrapped
	{pattern: "GET /vehicles/{serial}", as: support, path: "/vehicles/AM0101X", status: 422}, // misheard,
	{pattern: "GET /vehicles/{serial}/parts", as: support},
	{pattern: "GET /vehicles/{serial}/parts", as: dealer},
	{pattern: "GET /vehicles/{serial}/due", as: support},
	{pattern: "GET /vehicles/{serial}/history", as: support},
	{pattern: "GET /vehicles/{serial}/measured", as: support},
	{pattern: "GET /vehicles/{serial}/speed", as: support},
	{pattern: "GET /vehicles/{serial}/readings/new", as: support},
	{pattern: "GET /vehicles/{serial}/readings/new", as: support, send: `main form[method=post]`, status: 422},
	{pattern: "GET /vehicles/{serial}/readings/{reading}", as: support},
	{pattern: "GET /vehicles/{serial}/service", as: support, path: "/vehicles/{serial}/service?item=T02"},
	{pattern: "GET /vehicles/{serial}/service", as: dealer},
	{pattern: "GET /vehicles/{serial}/service/{entry}", as: support},
	{pattern: "GET /vehicles/{serial}/enquiries/new", as: support},
	{pattern: "GET /vehicles/{serial}/enquiries/new", as: support, send: `main form[method=post]`, status: 422},
	{pattern: "GET /vehicles/{serial}/enquiries/{enquiry}", as: support, path: "/vehicles/{asked}/enquiries/{enquiry}"},
	{pattern: "GET /vehicles/{serial}/campaigns/{campaign}", as: support},
	{pattern: "GET /vehicles/{serial}/standing", as: support},
	{pattern: "GET /vehicles/{serial}/people/{person}", as: support, path: "/vehicles/AM0101G/people/p0001"},
	{pattern: "GET /vehicles/{serial}/people/{person}", as: support, path: "/vehicles/AM0101G/people/p9001", status: 404},
	{pattern: "GET /vehicles/{serial}/new-owner", as: support},
	{pattern: "GET /vehicles/{serial}/new-owner", as: support, send: "main form[method=post]", status: 422},
	{pattern: "GET /vehicles/{serial}/use", as: support},
	{pattern: "GET /vehicles/{serial}/use", as: support, send: "main form[action$='/use']:has(select)", status: 422},
	{pattern: "GET /vehicles/{serial}/dealers", as: support},
	{pattern: "GET /vehicles/{serial}/dealers", as: support, send: "main form[method=post]", status: 422},
	{pattern: "GET /vehicles/{serial}/dealers/{assignment}", as: support},
	{pattern: "GET /vehicles/{serial}/dealers/{assignment}", as: support, send: "main form[method=post]", status: 422},
	{pattern: "GET /vehicles/{serial}/claims", as: support, path: "/vehicles/{claimed}/claims"},
	{pattern: "GET /vehicles/{serial}/claims", as: dealer},
	{pattern: "GET /vehicles/{serial}/claims/new", as: support},
	{pattern: "GET /vehicles/{serial}/claims/new", as: support, send: "main form[method=post]", status: 422},
	{pattern: "GET /vehicles/{serial}/claims/new", as: dealer},
	{pattern: "GET /vehicles/{serial}/claims/{claim}", as: support, path: "/vehicles/{serial}/claims/{draft}"},
	{pattern: "GET /vehicles/{serial}/claims/{claim}", as: dealer, path: "/vehicles/{serial}/claims/{draft}"},
	{pattern: "GET /vehicles/{serial}/claims/{claim}/change", as: support, path: "/vehicles/{serial}/claims/{draft}/change"},
	{pattern: "GET /vehicles/{serial}/odometer", as: engineer},
	{pattern: "GET /vehicles/{serial}/odometer", as: engineer, send: "main form[method=post]", status: 422},
	{pattern: "GET /vehicles/{serial}/assignments/{assignment}", as: dealer},
	{pattern: "GET /vehicles/{serial}/handbook", as: support},
	{pattern: "GET /vehicles/{serial}/handbook", as: support, path: "/vehicles/AM0102E/handbook"}, // none was issued
	{pattern: "GET /vehicles/{serial}/handbook/{issue}/{file}", as: support, path: "/vehicles/{serial}/handbook/1/handbook.html", book: true},
	{pattern: "GET /vehicles/{serial}/sheets", as: support},
	{pattern: "GET /vehicles/{serial}/sheets", as: support, path: "/vehicles/AM0102E/sheets"}, // none was made
	{pattern: "GET /vehicles/{serial}/sheets/{sheet}", as: support},
	{pattern: "GET /vehicles/{serial}/sheets/{sheet}/return", as: support},
	{pattern: "GET /vehicles/{serial}/sheets/{sheet}/return", as: support, send: "main form[method=post]", status: 422},

	// The fleet.
	{pattern: "GET /fleet", as: support},
	{pattern: "GET /fleet/due", as: support},
	{pattern: "GET /fleet/silent", as: support},
	{pattern: "GET /fleet/silent", as: engineer, path: "/fleet/silent?months=6"},
	{pattern: "GET /fleet/readings", as: support},
	{pattern: "GET /fleet/notices", as: support},
	{pattern: "GET /fleet/campaigns", as: support},
	{pattern: "GET /fleet/campaigns/{bulletin}", as: support},
	{pattern: "GET /fleet/campaigns/{bulletin}/{serial}", as: support, path: "/fleet/campaigns/C-2026-01/{listed}"},
	{pattern: "GET /fleet/claims", as: support},
	{pattern: "GET /fleet/claims", as: support, path: "/fleet/claims?stand=decided"},
	{pattern: "GET /fleet/claims/{serial}/{claim}", as: engineer, path: "/fleet/claims/{claimed}/{claim}"},
	{pattern: "GET /fleet/claims/{serial}/{claim}", as: support, path: "/fleet/claims/{claimed}/{claim}"},
	{pattern: "GET /fleet/claims/{serial}/{claim}", as: support, path: "/fleet/claims/{claimed}/{decided}"},
	{pattern: "GET /fleet/enquiries", as: support},
	{pattern: "GET /fleet/sheets", as: support},

	// The works.
	{pattern: "GET /works", as: engineer},
	{pattern: "GET /works/releases", as: support},
	{pattern: "GET /works/releases/{release}", as: support},
	{pattern: "GET /works/parts", as: support, path: "/works/parts?q=swivel"},
	{pattern: "GET /works/parts/{part}", as: support},
	{pattern: "GET /works/bulletins", as: support},
	{pattern: "GET /works/compare-releases", as: support, path: "/works/compare-releases?from=R3&to=R4", whole: true},
	{pattern: "GET /works/programmes", as: support},
	{pattern: "GET /works/programmes/{programme}/{version}", as: support, path: "/works/programmes/packhorse/2"},
	{pattern: "GET /works/programmes/{programme}/{version}/{item}", as: support, path: "/works/programmes/packhorse/2/E01"},
	{pattern: "GET /works/compare-programmes", as: support, path: "/works/compare-programmes?from=programmes/packhorse/versions/1&to=programmes/packhorse/versions/2", whole: true},
	{pattern: "GET /works/supersessions", as: support},
	{pattern: "GET /works/terms", as: support},
	{pattern: "GET /works/terms/{term}/{version}", as: support, path: "/works/terms/WORKS/2"},
	{pattern: "GET /works/notes", as: support},
	{pattern: "GET /works/notes/new", as: support},
	{pattern: "GET /works/notes/new", as: support, send: `form[action="/works/notes/new"]`, status: 422},
	{pattern: "GET /works/notes/{note}", as: engineer, path: "/works/notes/drip-at-the-swivel"},
	{pattern: "GET /works/bulletins/{bulletin}/{version}", as: engineer},
	{pattern: "GET /works/bulletins/new", as: engineer},
	{pattern: "GET /works/bulletins/new", as: engineer, path: "/works/bulletins/new?of=bulletins/C-2026-02/versions/1", whole: true},
	{pattern: "GET /works/bulletins/new", as: engineer, send: `form[action="/works/bulletins/new"]`, status: 422},
	{pattern: "GET /works/bulletins/{bulletin}/{version}/draft", as: engineer, status: 409}, // it is issued
	{pattern: "GET /works/imports", as: administrator},
	{pattern: "GET /works/health", as: administrator},

	// Administration.
	{pattern: "GET /accounts", as: administrator},
	{pattern: "GET /accounts/{account}", as: administrator},
	{pattern: "GET /organisations", as: administrator},
	{pattern: "GET /keys", as: administrator},
	{pattern: "GET /keys/new/{kind}", as: administrator},
	{pattern: "GET /keys/new/{kind}", as: administrator, path: "/keys/new/machine"},
	{pattern: "GET /audit", as: administrator},
	{pattern: "GET /audit/history", as: administrator, path: "/audit/history?parent=accounts/bert"},
	{pattern: "/", as: administrator, path: "/nowhere", status: 404},
}

// noPages are routes that send nothing to look at, and why.
var noPages = map[string]string{
	"GET /sign-in/openid/callback":                        "the identity provider sends browsers there, and it sends them on",
	"GET /vehicles/{serial}/sheets/{sheet}/paper/{paper}": "a file to print, which make screens draws",
}

// pages are all of both sites.
func pages() []sheet { return slices.Concat(deskPages, ownerPages) }

// name is what the page goes by, in messages and as a file.
func (p sheet) name() string {
	path := p.path
	if path == "" {
		_, path, _ = strings.Cut(p.pattern, " ")
	}
	name := strings.Trim(strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return ' '
	}, strings.NewReplacer("{$}", "home", "&", " and ").Replace(path)), " ")
	name = cmp.Or(strings.Join(strings.Fields(name), "."), "root")
	if p.send != "" {
		name += ".sent"
	}
	return fmt.Sprintf("%s.%s", name, p.as)
}

// address is where the page is.
func (s *site) address(p sheet) string {
	path := p.path
	if path == "" {
		_, path, _ = strings.Cut(strings.ReplaceAll(p.pattern, "{$}", ""), " ")
	}
	for word, value := range s.found {
		if strings.HasPrefix(value, "http") {
			path = strings.ReplaceAll(path, "{"+word+"}", value)
			continue
		}
		path = strings.ReplaceAll(path, "{"+word+"}", url.PathEscape(value))
	}
	switch {
	case strings.HasPrefix(path, "http"):
		return path
	case p.ofOwners():
		return s.owners + path
	}
	return s.desk + path
}
