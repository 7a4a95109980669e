package ownerrpc

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
)

// What FindPeople takes and gives.
const (
	leastQuery = 3   // characters
	mostQuery  = 100 // characters
	mostFound  = 50
)

// FindPeople implements the OwnerService. People are kept sealed, so that there
// is no index: every record is opened, some microseconds each.
func (s *Service) FindPeople(ctx context.Context, r *ownerv1.FindPeopleRequest) (*ownerv1.FindPeopleResponse, error) {
	q := newQuery(r.GetQuery())
	if n := utf8.RuneCountInString(r.GetQuery()); n > mostQuery || q.length() < leastQuery {
		return nil, fault.InvalidField("query", owner.Described(r.GetQuery()), "3 to 100 characters of a name, an address or a number")
	}
	var found []match
	for i, id := range s.store.PersonIDs() {
		if i%256 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		p, err := s.store.Person(id)
		if fault.Is(err, fault.NotFound) {
			continue // erased since the list was made
		}
		if err != nil {
			return nil, err
		}
		if m, ok := q.match(p); ok {
			found = append(found, m)
		}
	}
	slices.SortStableFunc(found, func(a, b match) int {
		return cmp.Or(cmp.Compare(a.grade, b.grade), cmp.Compare(a.order, b.order), cmp.Compare(a.person.ID, b.person.ID))
	})
	found = found[:min(len(found), mostFound)]
	return s.foundPeople(found), nil
}

// foundPeople adds to the people found what they are or were to which vehicles.
func (s *Service) foundPeople(found []match) *ownerv1.FindPeopleResponse {
	ids := map[string]bool{}
	for _, m := range found {
		ids[m.person.ID] = true
	}
	ties := s.store.TiesOf(ids)
	out := &ownerv1.FindPeopleResponse{}
	for _, m := range found {
		f := &ownerv1.FoundPerson{Person: m.person.Proto(), Matched: m.field}
		for _, t := range ties[m.person.ID] {
			f.Ties = append(f.Ties, tieWithEtag(ownerwire.TieProto(t.Tie), t.ModRevision))
		}
		out.People = append(out.People, f)
	}
	return out
}

// match is somebody who may be meant.
type match struct {
	person ownerstore.PersonRecord
	field  string // what was recognised
	grade  grade
	order  string // the name as it is compared
}

// grade is how well something fits, the best first.
type grade int

const (
	whole    grade = iota // the whole field
	start                 // its beginning
	words                 // the beginnings of words, in any order
	fragment              // somewhere in it
	nothing
)

// query is what was asked, as it is compared.
type query struct {
	text   string   // folded, words with single blanks between
	words  []string // of it
	digits string   // where it can be a number: its digits, without what stands before a national number
}

func newQuery(text string) query {
	q := query{text: fold(text)}
	q.words = strings.Fields(q.text)
	if strings.Trim(text, phoneText) == "" {
		q.digits = strings.TrimLeft(digitsOf(strings.ReplaceAll(text, "(0)", "")), "0")
	}
	return q
}

// phoneText is what people write and dictate in a number besides digits.
const phoneText = "0123456789 \u00a0+()-./"

// length is how much of the query tells people apart.
func (q query) length() int {
	return max(utf8.RuneCountInString(strings.ReplaceAll(q.text, " ", "")), len(q.digits))
}

// match compares a person with the query, each field for itself.
func (q query) match(p ownerstore.PersonRecord) (match, bool) {
	name := fold(p.FullName)
	best := match{person: p, grade: nothing, order: name}
	better := func(field string, g grade) {
		if g < best.grade {
			best.field, best.grade = field, g
		}
	}
	better("name", q.within(name))
	better("email", q.withinMailbox(p.Email))
	if len(q.digits) >= leastQuery {
		better("phone", gradeOf(digitsOf(p.Phone), q.digits))
	}
	better("postal address", q.within(fold(strings.Join(p.PostalLines, " "))))
	return best, best.grade < nothing
}

// within compares a field that is folded.
func (q query) within(field string) grade {
	if q.text == "" {
		return nothing
	}
	g := gradeOf(field, q.text)
	if g > words && startsOf(strings.Fields(field), q.words) {
		return words
	}
	return g
}

// withinMailbox compares an address as it is written, but for case and blanks:
// its punctuation tells addresses apart.
func (q query) withinMailbox(address string) grade {
	sought := strings.ReplaceAll(q.text, " ", "")
	if strings.Contains(address, "@") && sought != "" {
		return gradeOf(strings.ReplaceAll(fold(address), " ", ""), sought)
	}
	return nothing
}

func gradeOf(field, sought string) grade {
	switch {
	case field == "":
		return nothing
	case field == sought:
		return whole
	case strings.HasPrefix(field, sought):
		return start
	case strings.Contains(field, sought):
		return fragment
	}
	return nothing
}

// startsOf reports whether each word sought begins a word of the field of its
// own.
func startsOf(field, sought []string) bool {
	used := make([]bool, len(field))
	for _, w := range sought {
		i := slices.IndexFunc(field, func(f string) bool { return strings.HasPrefix(f, w) })
		for i >= 0 && used[i] {
			next := slices.IndexFunc(field[i+1:], func(f string) bool { return strings.HasPrefix(f, w) })
			if next < 0 {
				return false
			}
			i += 1 + next
		}
		if i < 0 {
			return false
		}
		used[i] = true
	}
	return true
}

func digitsOf(text string) string {
	return strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, text)
}

// letters that are no letter with a mark by Unicode, as people without them on
// their keyboard write them.
var letters = strings.NewReplacer("ø", "o", "ł", "l", "đ", "d", "ð", "d", "þ", "th", "æ", "ae", "œ", "oe", "ı", "i", "ħ", "h", "ŧ", "t")

// fold gives a text as it is compared: without case (Unicode's full folding),
// without accents (what is left of the compatibility decomposition without
// marks), words with single blanks between, and apostrophes left out.
func fold(text string) string {
	decomposed := strings.ToLower(text)
	if strings.ContainsFunc(text, func(r rune) bool { return r > unicode.MaxASCII }) {
		decomposed = norm.NFKD.String(cases.Fold().String(text))
	}
	var b strings.Builder
	blank := false
	for _, r := range decomposed {
		switch {
		case unicode.Is(unicode.Mn, r), r == '\'', r == '’', r == '`':
		case unicode.IsLetter(r), unicode.IsDigit(r):
			if blank && b.Len() > 0 {
				b.WriteByte(' ')
			}
			blank = false
			b.WriteRune(r)
		default:
			blank = true
		}
	}
	return letters.Replace(b.String())
}
