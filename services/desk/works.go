package desk

import (
	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

// engineerRoles may change what the works lays down.
var engineerRoles = []accessv1.Role{accessv1.Role_ROLE_ENGINEER, accessv1.Role_ROLE_ADMINISTRATOR}

// worksRoutes are the pages about what the works has laid down.
func worksRoutes() []Route {
	return []Route{
		{"GET /works", Staff, (*visit).showWorks},
		{"GET /works/releases", Staff, (*visit).showReleases},
		{"GET /works/releases/{release}", Staff, (*visit).showRelease},
		{"GET /works/compare-releases", Staff, (*visit).comparedReleases},
		{"GET /works/programmes", Staff, (*visit).showProgrammes},
		{"GET /works/programmes/{programme}/{version}", Staff, (*visit).showProgramme},
		{"GET /works/programmes/{programme}/{version}/{item}", Staff, (*visit).showItem},
		{"GET /works/compare-programmes", Staff, (*visit).comparedProgrammes},
		{"GET /works/parts", Staff, (*visit).showPartSearch},
		{"GET /works/parts/{part}", Staff, (*visit).showPart},
		{"GET /works/supersessions", Staff, (*visit).showSupersessions},
		{"GET /works/terms", Staff, (*visit).showTerms},
		{"GET /works/terms/{term}/{version}", Staff, (*visit).showTerm},
		{"GET /works/notes", Staff, (*visit).showNotes},
		{"GET /works/notes/new", Staff, (*visit).showNewNote},
		{"POST /works/notes/new", Staff, (*visit).writeNote},
		{"GET /works/notes/{note}", Staff, (*visit).showNote},
		{"POST /works/notes/{note}", Staff, (*visit).changeNote},
		{"POST /works/notes/{note}/review", Engineers, (*visit).reviewNote},
		{"GET /works/bulletins", Staff, (*visit).showBulletins},
		{"GET /works/bulletins/new", Engineers, (*visit).showNewDraft},
		{"POST /works/bulletins/new", Engineers, (*visit).writeDraft},
		{"GET /works/bulletins/{bulletin}/{version}", Staff, (*visit).showBulletin},
		{"GET /works/bulletins/{bulletin}/{version}/draft", Engineers, (*visit).showDraft},
		{"POST /works/bulletins/{bulletin}/{version}/draft", Engineers, (*visit).changeDraft},
		{"POST /works/bulletins/{bulletin}/{version}/issue", Engineers, (*visit).issueBulletin},
		{"POST /works/bulletins/{bulletin}/{version}/withdraw", Engineers, (*visit).withdrawBulletin},
		{"GET /works/imports", Administrators, (*visit).showImports},
		{"POST /works/imports", Administrators, (*visit).lookAtUpload},
		{"POST /works/imports/{upload}", Administrators, (*visit).importUpload},
		{"GET /works/health", Administrators, (*visit).showHealth},
	}
}

// worksPages are the pages of the works, with what is on each.
var worksPages = []struct{ label, path, what string }{
	{"Releases", "/works/releases", "what vehicles are built to, and what differs between two"},
	{"Service programmes", "/works/programmes", "what is done how often, and what is measured"},
	{"Parts", "/works/parts", "where each belongs, what took its place, where it is"},
	{"Bulletins and campaigns", "/works/bulletins", "what was learned since, and for which vehicles"},
	{"Warranty terms", "/works/terms", "what is promised, for how long"},
	{"Answers to frequent questions", "/works/notes", "notes that the desk reads out, once they are reviewed"},
}

// officePages are those of administrators.
var officePages = []struct{ label, path, what string }{
	{"Import", "/works/imports", "tables and documents, looked at before anything is written"},
	{"Health", "/works/health", "the store, its snapshots, the jobs, the messages that wait"},
	{"Accounts", "/accounts", "who may sign in"}, {"Organisations", "/organisations", "dealers, and how they are reached"},
	{"Keys", "/keys", "what programs call with"}, {"Audit", "/audit", "who did, read and was refused what"},
}

func (v *visit) showWorks() {
	list := func(pages []struct{ label, path, what string }) (out []entry) {
		for _, p := range pages {
			out = append(out, entry{Term: p.label, Path: p.path, Text: p.what})
		}
		return out
	}
	blocks := []block{{List: list(worksPages)}}
	if v.signed.Account.GetRole() == accessv1.Role_ROLE_ADMINISTRATOR {
		blocks = append(blocks, block{Heading: "The office", List: list(officePages)})
	}
	v.show("The works", blocks...)
}
