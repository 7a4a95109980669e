package sitetest

import (
	"crypto/rand"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"halfshaft/services/internal/links"
)

// The owners of the demo, who follow the links of their mails.
const (
	inEnglish who = "English"
	inGerman  who = "Deutsch"
)

// ownerPages are the pages of the owners: each purpose of a link has one in each
// language, and so has what comes of its form.
var ownerPages = append(inBothLanguages([]sheet{
	{pattern: "GET /l/{token}", path: "{link-s}"},
	{pattern: "GET /l/{token}", path: "{link-o}"},
	{pattern: "GET /l/{token}", path: "{link-o}", send: "form", status: 422},
	{pattern: "GET /l/{token}", path: "{link-b}"},
	{pattern: "GET /l/{token}", path: "{link-b}", send: "form", status: 422},
	{pattern: "GET /l/{token}", path: "{link-z}"},
	{pattern: "GET /l/{token}", path: "{link-d}"},
	{pattern: "GET /l/{token}", path: "{link-d}", send: "form", status: 422},
	{pattern: "GET /l/{token}", path: "{link-t}"},
	{pattern: "GET /l/{token}", path: "{link-t}", send: "form"},
	{pattern: "GET /l/{token}", path: "{link-g}"},
	{pattern: "GET /l/{token}", path: "{link-g}", send: "form"},
	{pattern: "GET /l/{token}", path: "{link-m}"},
	{pattern: "GET /l/{token}", path: "{link-m}", send: "form", status: 422},
	{pattern: "GET /l/{token}", path: "{link-c}"},
	{pattern: "GET /l/{token}", path: "{link-c}", send: "form"},
	{pattern: "GET /l/{token}", path: "{link-h}"},
	{pattern: "GET /l/{token}", path: "{link-w}"},
	{pattern: "GET /l/{token}", path: "{link-p}"},
	{pattern: "GET /l/{token}", path: "{link-y}"},
	{pattern: "GET /l/{token}", path: "{link-u}"},
	{pattern: "GET /l/{token}", path: "{link-u}", send: "form"},
	{pattern: "GET /take-over", path: "/take-over?language={language}"},
	{pattern: "GET /take-over", path: "/take-over?language={language}", send: "form", status: 422},
}),
	sheet{pattern: "GET /l/{token}", as: inEnglish, path: "/l/nothing", status: 404},
	sheet{pattern: "GET /l/{token}/handbook/{issue}/{file}", as: inEnglish, path: "{link-en-h}/handbook/1/handbook.html", book: true},
	sheet{pattern: "/", as: inEnglish, path: "/", status: 404},
)

// noOwnerPages are routes that send nothing to look at, and why.
var noOwnerPages = map[string]string{
	"GET /calendar/{file}": "a calendar, for programs that show calendars",
	"/l/{token}":           "a sentence for whoever comes by another method, as the page of a link that leads nowhere",
	"/take-over":           "likewise",
}

// inBothLanguages repeats pages for each of the owners.
func inBothLanguages(pages []sheet) (all []sheet) {
	for _, p := range pages {
		for as, tag := range languages {
			p := p
			p.as, p.path = as, strings.NewReplacer("{link-", "{link-"+tag+"-", "{language}", tag).Replace(p.path)
			all = append(all, p)
		}
	}
	return all
}

// languages are the owners' languages.
var languages = map[who]string{inEnglish: "en", inGerman: "de"}

// ofOwners says whether a page is the owners'.
func (p sheet) ofOwners() bool { return languages[p.as] != "" }

// purposes are all that a link may be for.
func purposes() (all []links.Purpose) {
	for b := range 256 {
		all = append(all, links.Purpose(b))
	}
	return all
}

// signLinks makes a link of each purpose for each of the owners, as their mails
// hold them.
func (s *site) signLinks() error {
	ring, err := links.OpenRing(filepath.Join(s.dir, "demo", "data", "secrets", "links.key"), rand.Reader)
	if err != nil {
		return err
	}
	now, err := s.now()
	if err != nil {
		return err
	}
	for _, tag := range languages {
		// "notices/AM0112A.E01.2026-05-18.due.mail.p0012"
		serial, notice, _ := strings.Cut(lastOf(s.found["notice-"+tag]), ".")
		target := links.Target{Serial: serial, Person: lastOf(s.found["person-"+tag]), Notice: notice}
		for _, purpose := range purposes() {
			token, err := ring.Token(links.Link{Purpose: purpose, Subject: target.Subject(), Expires: now.Add(24 * time.Hour)}, links.Nonce{byte(purpose)})
			if err != nil {
				return fmt.Errorf("a link %q: %w", purpose, err)
			}
			s.found[fmt.Sprintf("link-%s-%c", tag, purpose)] = s.owners + "/l/" + token
		}
	}
	return nil
}
