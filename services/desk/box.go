package desk

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle"
)

// box is where staff say what they look for: whatever the caller said. On the
// page of a vehicle, words for a part are asked of that vehicle.
type box struct {
	Vehicle string // serial of the vehicle that is open; "" for none
	Said    string
}

// box gives the one of this page.
func (v *visit) box() *box { return &box{Vehicle: v.r.PathValue("serial")} }

// found is what there is for what was said.
type found struct {
	said, open string // open is the serial of the vehicle that was open
	builds     *buildv1.FindBuildsResponse
	people     []*ownerv1.FoundPerson
	part       *partsv1.PartAnswer  // of the vehicle that was open; nil for none
	parts      []*partsv1.FoundPart // of the catalogue
}

// find takes what was said to where it leads. Only what was said exactly opens
// a vehicle: everything that is a guess is listed, for the caller to be asked.
func (v *visit) find() {
	q := v.r.URL.Query()
	f := found{said: strings.TrimSpace(q.Get("q")), open: strings.TrimSpace(q.Get("vehicle"))}
	if f.said == "" {
		v.goTo(cmp.Or(vehiclePath(f.open), "/"))
		return
	}
	if serial, words := leadingSerial(f.said); serial != "" {
		v.goTo(partsPath(string(serial), words))
		return
	}
	if err := v.lookUp(&f); err != nil {
		v.refuse(err)
		return
	}
	if path := f.only(); path != "" {
		v.goTo(path)
		return
	}
	v.foundPage(&f)
}

// leadingSerial takes a serial, in one word or as spoken in several, off the
// beginning of what was said, where words for a part follow it.
func leadingSerial(said string) (vehicle.Serial, string) {
	list := strings.Fields(said)
	const most = 12 // "alfa mike zero one zero eight two" and more
	for n := min(most, len(list)-1); n > 0; n-- {
		if s, err := vehicle.ParseSerial(strings.Join(list[:n], " ")); err == nil {
			return s, strings.Join(list[n:], " ")
		}
	}
	return "", ""
}

// lookUp asks the services. Whoever may not read people finds none.
func (v *visit) lookUp(f *found) (err error) {
	if f.builds, err = v.d.Builds.FindBuilds(v.as(), &buildv1.FindBuildsRequest{Query: f.said, PageSize: mostFound}); unlessShort(err) != nil {
		return err
	}
	if f.exact() != "" {
		return nil
	}
	people, err := v.d.Owners.FindPeople(v.as(), &ownerv1.FindPeopleRequest{Query: f.said})
	if unlessShort(err) != nil {
		return err
	}
	f.people = people.GetPeople()
	if f.open != "" {
		answer, err := v.d.Parts.AnswerPart(v.as(), &partsv1.AnswerPartRequest{Build: "builds/" + f.open, Question: f.said})
		if unlessShort(err) != nil {
			return err
		}
		if err == nil && answer.GetRefusal().GetRule() != "NO_SUCH_PART" {
			f.part = answer
			return nil
		}
	}
	parts, err := v.d.Parts.SearchParts(v.as(), &partsv1.SearchPartsRequest{Query: f.said, PageSize: mostFound})
	f.parts = parts.GetFound()
	return unlessShort(err)
}

// mostFound is how many of each kind are listed: nobody reads out more.
const mostFound = 20

// unlessShort is an error, and none where what was said was too little to look
// for, or is not for who asks.
func unlessShort(err error) error {
	switch status.Code(err) {
	case codes.InvalidArgument, codes.PermissionDenied, codes.NotFound:
		return nil
	}
	return err
}

// exact is the vehicle that was said, letter by letter: by its serial, or by
// what no other vehicle has.
func (f *found) exact() string {
	matches := f.builds.GetMatches()
	if len(matches) > 0 && matches[0].GetMatchedBy() == "serial" {
		return bare(matches[0].GetBuild())
	}
	if len(matches) == 1 && !matches[0].GetFormer() && sameText(matches[0].GetMatchedText(), f.said) {
		return bare(matches[0].GetBuild())
	}
	return ""
}

// sameText compares as people say it: without case, spaces and hyphens.
func sameText(a, b string) bool {
	plain := strings.NewReplacer(" ", "", "-", "", ".", "").Replace
	return strings.EqualFold(plain(a), plain(b))
}

// only is where the one thing leads that was said exactly; "" where there is
// none, or more.
func (f *found) only() string {
	if serial := f.exact(); serial != "" {
		return vehiclePath(serial)
	}
	vehicles := len(f.builds.GetMatches()) + len(f.builds.GetNearSerials())
	if f.part != nil && vehicles == 0 && len(f.people) == 0 {
		return partsPath(f.open, f.said)
	}
	if vehicles > 0 || f.part != nil || len(f.parts) > 0 || len(f.people) != 1 || !sameText(f.people[0].GetPerson().GetFullName(), f.said) {
		return ""
	}
	ties := presentTies(f.people[0])
	if len(ties) != 1 {
		return ""
	}
	return vehiclePath(serialIn(ties[0].GetName()))
}

func presentTies(p *ownerv1.FoundPerson) []*ownerv1.Tie {
	return slices.DeleteFunc(slices.Clone(p.GetTies()), func(t *ownerv1.Tie) bool { return t.GetEndDate() != nil })
}

// serialIn gives the serial in the name of something of a vehicle.
func serialIn(name string) string {
	parts := strings.Split(name, "/")
	if len(parts) < 2 {
		return ""
	}
	return parts[1]
}

func vehiclePath(serial string) string {
	if serial == "" {
		return ""
	}
	return "/vehicles/" + url.PathEscape(serial)
}

func partsPath(serial, words string) string {
	return vehiclePath(serial) + "/parts?q=" + url.QueryEscape(words)
}

// foundPage lists what may be meant and why, or says what was tried.
func (v *visit) foundPage(f *found) {
	var blocks []block
	if text := f.builds.GetSerialRefusal(); text != "" {
		b := block{Text: []string{upperFirst(text)}}
		if near := f.builds.GetNearSerials(); len(near) > 0 {
			b.Text = append(b.Text, "These vehicles are one slip away from that. Ask the caller before you open one.")
			for _, name := range near {
				s := vehicle.Serial(bare(name))
				b.List = append(b.List, entry{Term: string(s), Mono: true, Path: vehiclePath(string(s)), Text: s.Spoken()})
			}
		}
		blocks = append(blocks, b)
	}
	if matches := f.builds.GetMatches(); len(matches) > 0 {
		b := block{Heading: "Vehicles"}
		for _, m := range matches {
			why := "by its " + m.GetMatchedBy() + " " + m.GetMatchedText()
			if m.GetFormer() {
				why += ", which it has no longer"
			}
			b.List = append(b.List, entry{Term: bare(m.GetBuild()), Mono: true, Path: vehiclePath(bare(m.GetBuild())), Text: why})
		}
		if f.builds.GetNextPageToken() != "" {
			b.Text = append(b.Text, "There are more. Say more of it to narrow them down.")
		}
		blocks = append(blocks, b)
	}
	blocks = append(blocks, peopleFound(f.people)...)
	blocks = append(blocks, f.partsFound()...)
	if len(blocks) == 0 {
		blocks = []block{{Text: []string{f.tried(), "A part is found by its words on the page of a vehicle, or behind the serial: AM0147P swivel seal left."}}}
	}
	v.render(http.StatusOK, view{Title: "“" + f.said + "”", Box: &box{Vehicle: f.open, Said: f.said}, Blocks: blocks})
}

// tried says where nothing was found.
func (f *found) tried() string {
	if len([]rune(f.said)) < 3 {
		return "That is too short to look for: three characters at least."
	}
	return "Nothing goes by that: no serial, frame number, gearbox or other component serial, lot or plate, nobody's name, address or telephone, and no part by number or words."
}

func peopleFound(people []*ownerv1.FoundPerson) []block {
	if len(people) == 0 {
		return nil
	}
	b := block{Heading: "People"}
	by := map[string]string{"email": "mail address", "phone": "telephone"}
	for _, p := range people {
		why := "by " + cmp.Or(by[p.GetMatched()], p.GetMatched())
		for _, t := range p.GetTies() {
			b.List = append(b.List, entry{
				Term: p.GetPerson().GetFullName(), Path: vehiclePath(serialIn(t.GetName())), Text: serialIn(t.GetName()) + ", " + tieWords(t), Sub: why,
			})
		}
		if len(p.GetTies()) == 0 {
			b.List = append(b.List, entry{Term: p.GetPerson().GetFullName(), Text: "Tied to no vehicle.", Sub: why})
		}
	}
	return []block{b}
}

// tieWords says what somebody is or was to a vehicle.
func tieWords(t *ownerv1.Tie) string {
	text := word(t.GetRole(), "ROLE_") + " since " + civil(t.GetStartDate())
	if t.GetEndDate() != nil {
		return word(t.GetRole(), "ROLE_") + " until " + civil(t.GetEndDate())
	}
	return text
}

func (f *found) partsFound() []block {
	if f.part != nil {
		return []block{{Heading: "Parts of " + f.open, List: []entry{{
			Term: f.said, Path: partsPath(f.open, f.said), Text: "The answer for " + f.open + ".",
		}}}}
	}
	if len(f.parts) == 0 {
		return nil
	}
	b := block{Heading: "Parts of the catalogue", Text: []string{"Which of them fits, the vehicle decides: ask for the serial."}}
	for _, p := range f.parts {
		e := entry{Term: bare(p.GetPart().GetName()), Mono: true, Text: p.GetPart().GetTitle(), Sub: matchWords[p.GetMatch()]}
		if f.open != "" {
			e.Path = partsPath(f.open, e.Term)
		}
		b.List = append(b.List, e)
	}
	return []block{b}
}

// matchWords say how a part was met.
var matchWords = map[partsv1.PartMatch]string{
	partsv1.PartMatch_PART_MATCH_NUMBER: "by its number", partsv1.PartMatch_PART_MATCH_OTHER_NUMBER: "by another number of it",
	partsv1.PartMatch_PART_MATCH_SUPERSESSION: "by supersession", partsv1.PartMatch_PART_MATCH_WORDS: "by its words",
	partsv1.PartMatch_PART_MATCH_BEGINNING: "by beginnings of words", partsv1.PartMatch_PART_MATCH_MISSPELT: "by one wrong letter",
	partsv1.PartMatch_PART_MATCH_NEAR_NUMBER: "a number one character away",
}
