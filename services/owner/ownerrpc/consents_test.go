package ownerrpc_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/etcdtest"
)

func TestWhatAPersonSaidIsKeptAndTheLastCounts(t *testing.T) {
	client, key := etcdtest.Client(t), keyFile(t)
	h := open(t, client, key)
	h.create(t, "p1")
	h.create(t, "p2")
	ctx, own := h.owner("people/p1")
	text := &ownerv1.Consent{
		Purpose: ownerv1.Purpose_PURPOSE_SERVICE, Way: ownerv1.ContactWay_CONTACT_WAY_TEXT, Given: true, Wording: "Yes, text me.", Language: "en-GB",
		Source: ownerv1.ConsentSource_CONSENT_SOURCE_PAGE,
	}
	request := &ownerv1.RecordConsentRequest{Parent: "people/p1", Consent: text, RequestId: uuid(1)}
	first, err := own.RecordConsent(ctx, request)
	if err != nil || first.GetRecordedBy() != "owner" || !first.GetConsentTime().AsTime().Equal(today) || !strings.HasPrefix(first.GetName(), "people/p1/consents/") {
		t.Fatal(first, err)
	}
	if again, err := own.RecordConsent(ctx, request); err != nil || !proto.Equal(again, first) {
		t.Errorf("again: got %v, %v", again, err)
	}
	stop := &ownerv1.Consent{Purpose: ownerv1.Purpose_PURPOSE_SERVICE, Way: ownerv1.ContactWay_CONTACT_WAY_TEXT, Source: ownerv1.ConsentSource_CONSENT_SOURCE_TEXT, Wording: "STOP"}
	h.now = today.Add(time.Hour)
	second, err := h.service().RecordConsent(context.Background(), &ownerv1.RecordConsentRequest{Parent: "people/p1", Consent: stop})
	if err != nil {
		t.Fatal(err)
	}
	// One of the day before, written down late, does not count.
	late := proto.Clone(text).(*ownerv1.Consent)
	late.ConsentTime, late.Source = timestamppb.New(today.Add(-24*time.Hour)), ownerv1.ConsentSource_CONSENT_SOURCE_PAPER
	deskCtx, desk := h.desk()
	third, err := desk.RecordConsent(deskCtx, &ownerv1.RecordConsentRequest{Parent: "people/p1", Consent: late})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		ctx, desk := h.desk()
		p, err := desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p1"})
		if err != nil || len(p.GetConsents()) != 1 || !proto.Equal(p.GetConsents()[0], second) {
			t.Errorf("that counts: got %v, %v; want %v", p.GetConsents(), err, second)
		}
		var all []*ownerv1.Consent
		for token := ""; ; {
			list, err := desk.ListConsents(ctx, &ownerv1.ListConsentsRequest{Parent: "people/p1", PageSize: 2, PageToken: token})
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, list.GetConsents()...)
			if token = list.GetNextPageToken(); token == "" {
				break
			}
		}
		if len(all) != 3 || !proto.Equal(all[0], third) || !proto.Equal(all[1], first) || !proto.Equal(all[2], second) {
			t.Errorf("all: got %v", all)
		}
		h.close()
		h = open(t, client, key) // and after a restart
	}
	otherCtx, other := h.owner("people/p2")
	_, err = other.ListConsents(otherCtx, &ownerv1.ListConsentsRequest{Parent: "people/p1"})
	wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
}

func TestAConsentOfNobodyOrToNothingIsRefused(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	ctx, desk := h.desk()
	_, err := desk.RecordConsent(ctx, &ownerv1.RecordConsentRequest{Parent: "people/p9", Consent: &ownerv1.Consent{}})
	wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
	_, err = desk.RecordConsent(ctx, &ownerv1.RecordConsentRequest{Parent: "people/p1", Consent: &ownerv1.Consent{
		Purpose: ownerv1.Purpose_PURPOSE_SAFETY, Way: 9, Given: true, Language: "english", ConsentTime: timestamppb.New(today.Add(time.Minute)),
	}})
	for _, field := range []string{"purpose", "way", "wording", "language", "consent_time", "source"} {
		if err == nil || !strings.Contains(err.Error(), "consent."+field+": got") {
			t.Errorf("%s is not named in %v", field, err)
		}
	}
}

func TestAnAddressThatMailCameBackFromIsMarkedUntilItIsCorrected(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	ctx, s := context.Background(), h.service()
	mark := func(address string, n int) *ownerv1.Person {
		t.Helper()
		p, err := s.MarkUndeliverable(ctx, &ownerv1.MarkUndeliverableRequest{
			Name: "people/p1", Way: ownerv1.ContactWay_CONTACT_WAY_MAIL, Address: address, Reason: "550 5.1.1 <ada@nettlefold.example> no such user", RequestId: uuid(n),
		})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	if p := mark("old@nettlefold.example", 1); len(p.GetUndeliverable()) > 0 {
		t.Errorf("another address: got %v", p)
	}
	marked := mark("ADA@nettlefold.example", 2)
	if u := marked.GetUndeliverable(); len(u) != 1 || u[0].GetReason() != "550 5.1.1 … no such user" || !u[0].GetMarkTime().AsTime().Equal(today) {
		t.Errorf("got %v", u)
	}
	h.now = today.Add(time.Hour)
	if p := mark("ada@nettlefold.example", 3); !proto.Equal(p, marked) {
		t.Errorf("marked again: got %v, want %v", p, marked)
	}
	deskCtx, desk := h.desk()
	marked.FullName = "Ada Nettlefold-Quayle"
	renamed, err := desk.UpdatePerson(deskCtx, &ownerv1.UpdatePersonRequest{Person: marked})
	if err != nil || len(renamed.GetUndeliverable()) != 1 {
		t.Errorf("another name: got %v, %v", renamed, err)
	}
	renamed.Email = "ada@quayle.example"
	corrected, err := desk.UpdatePerson(deskCtx, &ownerv1.UpdatePersonRequest{Person: renamed})
	if err != nil || len(corrected.GetUndeliverable()) != 0 {
		t.Errorf("another address: got %v, %v", corrected, err)
	}
	if p := mark("ada@nettlefold.example", 4); len(p.GetUndeliverable()) != 0 {
		t.Errorf("the old address: got %v", p)
	}
	_, err = s.MarkUndeliverable(ctx, &ownerv1.MarkUndeliverableRequest{Name: "people/p1", Address: "x"})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	_, err = s.MarkUndeliverable(ctx, &ownerv1.MarkUndeliverableRequest{Name: "people/p7", Way: ownerv1.ContactWay_CONTACT_WAY_MAIL, Address: "x"})
	wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
}

func TestTheNewHabitsOfAPersonAreKeptAndChecked(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	ctx, desk := h.desk()
	p := person("p1")
	p.ContactWays = []ownerv1.ContactWay{ownerv1.ContactWay_CONTACT_WAY_TEXT, ownerv1.ContactWay_CONTACT_WAY_LETTER}
	p.FormatLocale, p.MostMessages, p.DeceasedDate = "de-CH", 2, day(2026, 11, 25)
	p.Undeliverable = []*ownerv1.Undeliverable{{Way: ownerv1.ContactWay_CONTACT_WAY_MAIL}} // not for the caller to say
	p.Consents = []*ownerv1.Consent{{Given: true}}
	made, err := desk.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: p})
	if err != nil || len(made.GetUndeliverable()) > 0 || len(made.GetConsents()) > 0 {
		t.Fatal(made, err)
	}
	want := proto.Clone(p).(*ownerv1.Person)
	want.Undeliverable, want.Consents, want.CreateTime, want.Etag = nil, nil, made.GetCreateTime(), made.GetEtag()
	if got, err := desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p1"}); err != nil || !proto.Equal(got, want) {
		t.Errorf("got %v, %v, want %v", got, err, want)
	}
	made.ContactWays, made.FormatLocale, made.MostMessages = append(made.ContactWays, made.ContactWays[0]), "german", 101
	made.DeceasedDate = day(2026, 11, 26)
	_, err = desk.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: made})
	for _, field := range []string{"contact_ways[2]", "format_locale", "most_messages", "deceased_date"} {
		if err == nil || !strings.Contains(err.Error(), "person."+field+": got") {
			t.Errorf("%s is not named in %v", field, err)
		}
	}
	// It is tomorrow already where the person lives.
	made.ContactWays, made.FormatLocale, made.MostMessages, made.TimeZone = nil, "", 0, "Pacific/Kiritimati"
	if _, err := desk.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: made}); err != nil {
		t.Error(err)
	}
	made.DeceasedDate.Month = 13
	_, err = desk.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: made})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
}

func TestPeopleAreFoundByWhatIsSaid(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	ctx, desk := h.desk()
	for id, p := range map[string]*ownerv1.Person{
		"a1": {FullName: "José Ångström-Núñez", Email: "jose@fjord.example", Phone: "+12025550143", PostalLines: []string{"1 Quay", "Straße am Fluß"}},
		"b1": {FullName: "Ada Nettlefold", Email: "ada.n@works.example", Phone: "+441632960983", PostalLines: []string{"The Old Forge"}},
		"b2": {FullName: "Ada Nettlefold", Email: "second@works.example", Phone: "+441632960111"},
		"c1": {FullName: "Øyvind Łukasiewicz", Phone: "+441632961983"},
		"d1": {FullName: "Seán O’Neill"},
		"e1": {FullName: "Nettle Adams"},
	} {
		p.Name, p.TimeZone = "people/"+id, "Europe/London"
		if _, err := desk.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: p}); err != nil {
			t.Fatal(err)
		}
	}
	h.tie(t, serial(t, "AM0147"), "b1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	h.tie(t, serial(t, "AM0148"), "b1", ownerv1.Role_ROLE_PAYER, day(2024, 6, 1))
	for query, want := range map[string]string{
		"jose angstrom":     "a1 name",
		"NUNEZ":             "a1 name",
		"Ångström":          "a1 name",
		"strasse am fluss":  "a1 postal address",
		"oyvind":            "c1 name",
		"lukasiewicz":       "c1 name",
		"oneill":            "d1 name",
		"o'neill sean":      "d1 name",
		"Ada Nettlefold":    "b1 name, b2 name",
		"nettlefold, ada":   "b1 name, b2 name",
		"nettle":            "e1 name, b1 name, b2 name", // the beginning of the name before that of a later word
		"old forge":         "b1 postal address",
		"ada.n@works":       "b1 email",
		"@works.example":    "b1 email, b2 email",
		"01632 960 983":     "b1 phone",
		"+44 (0)1632 96098": "b1 phone",
		"9 6 0 9 8 3":       "b1 phone",
		"(202) 555-0143":    "a1 phone",
		"961-983":           "c1 phone",
		"nobody":            "",
	} {
		found, err := desk.FindPeople(ctx, &ownerv1.FindPeopleRequest{Query: query})
		if err != nil {
			t.Error(query, err)
			continue
		}
		var got []string
		for _, f := range found.GetPeople() {
			got = append(got, strings.TrimPrefix(f.GetPerson().GetName(), "people/")+" "+f.GetMatched())
		}
		if strings.Join(got, ", ") != want {
			t.Errorf("%q: got %v, want %s", query, got, want)
		}
	}
	found, err := desk.FindPeople(ctx, &ownerv1.FindPeopleRequest{Query: "ada.n@works"})
	if err != nil || len(found.GetPeople()[0].GetTies()) != 2 || found.GetPeople()[0].GetTies()[0].GetRole() != ownerv1.Role_ROLE_PAYER || found.GetPeople()[0].GetPerson().GetEtag() == "" {
		t.Errorf("got %v, %v", found, err)
	}
	for _, query := range []string{"", "ad", "..,", "12", strings.Repeat("a", 101)} {
		_, err := desk.FindPeople(ctx, &ownerv1.FindPeopleRequest{Query: query})
		wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
		if query != "" && strings.Contains(err.Error(), `"`+query) {
			t.Errorf("what was asked is quoted: %v", err)
		}
	}
}

func TestAtMostFiftyPeopleAreFound(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	var rows []*ownerv1.OwnerRow
	for i := range 60 {
		rows = append(rows, personRow(person(fmt.Sprintf("p%02d", i))))
	}
	if _, err := h.load(t, "many", rows); err != nil {
		t.Fatal(err)
	}
	ctx, desk := h.desk()
	found, err := desk.FindPeople(ctx, &ownerv1.FindPeopleRequest{Query: "nettlefold"})
	if err != nil || len(found.GetPeople()) != 50 {
		t.Errorf("%d found, %v", len(found.GetPeople()), err)
	}
}
