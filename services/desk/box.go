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
	"halfshaft/services/wording"
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
	if serial := strings.TrimSpace(q.Get("serial")); serial != "" { // asked for, for the words that were said before
		if s, err := vehicle.ParseSerial(serial); err == nil {
			v.goTo(partsPath(string(s), f.said))
			return
		}
		f.said = serial
	}
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
	if path := f.only(v.today()); path != "" {
		v.goTo(path)
		return
	}
	if f.open != "" && f.nothing() { // it may be what the caller asks of that vehicle
		v.goTo(partsPath(f.open, f.said))
		return
	}
	v.foundPage(http.StatusOK, &f)
}

// nothing reports whether nothing goes by what was said.
func (f *found) nothing() bool {
	return f.builds.GetSerialRefusal() == "" && len(f.builds.GetMatches())+len(f.people)+len(f.parts) == 0 && f.part == nil
}

// notSerial answers an address with what is no serial in it: with why, and whose
// it may be.
func (v *visit) notSerial() {
	f := found{said: v.r.PathValue("serial")}
	if err := v.lookUp(&f); err != nil {
		v.refuse(err)
		return
	}
	v.foundPage(http.StatusUnprocessableEntity, &f)
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
	if v.writesPeople() {
		people, err := v.d.Owners.FindPeople(v.as(), &ownerv1.FindPeopleRequest{Query: f.said})
		if unlessShort(err) != nil {
			return err
		}
		f.people = people.GetPeople()
	}
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
func (f *found) only(today vehicle.Date) string {
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
	ties := presentTies(f.people[0], today)
	if len(ties) != 1 {
		return ""
	}
	return vehiclePath(serialIn(ties[0].GetName()))
}

func presentTies(p *ownerv1.FoundPerson, today vehicle.Date) []*ownerv1.Tie {
	return slices.DeleteFunc(slices.Clone(p.GetTies()), func(t *ownerv1.Tie) bool { return !holds(t, today) })
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
func (v *visit) foundPage(status int, f *found) {
	var blocks []block
	if text := f.builds.GetSerialRefusal(); text != "" {
		b := block{Text: []string{wording.UpperFirst(text)}}
		if near := f.builds.GetNearSerials(); len(near) > 0 {
			b.Text = append(b.Text, "These vehicles are one slip away from that. Ask the caller before you open one.")
			for _, name := range near {
				s := vehicle.Serial(bare(name))
				b.List = append(b.List, entry{Term: string(s), Mono: true, Path: vehiclePath(string(s)), Text: s.Spoken(), Sub: v.toTellApart(string(s), len(b.List))})
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
			serial := bare(m.GetBuild())
			b.List = append(b.List, entry{Term: serial, Mono: true, Path: vehiclePath(serial), Text: why, Sub: v.toTellApart(serial, len(b.List))})
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
	v.render(status, view{Title: "“" + f.said + "”", Box: &box{Vehicle: f.open, Said: f.said}, Blocks: blocks})
}

// mostTold is for how many vehicles of a list is said what tells them apart: the
// caller is not asked about more.
const mostTold = 10

// toTellApart says what a caller knows of their vehicle, so that they can be asked
// which is theirs: what it is, its plate, and whose. It says what it can.
func (v *visit) toTellApart(serial string, n int) string {
	if n >= mostTold {
		return ""
	}
	var known []string
	c, err := v.d.Builds.GetConfiguration(v.as(), &buildv1.GetConfigurationRequest{Name: "builds/" + serial})
	if err == nil {
		known = append(known, wording.UpperFirst(c.GetWheelbase())+" wheelbase, release "+bare(c.GetRelease()))
		if c.GetPlate() != "" {
			known = append(known, "plate "+c.GetPlate())
		}
	}
	return strings.Join(append(known, v.owners(serial)...), ", ")
}

// owners are the names of who owns a vehicle today, for those who may know.
func (v *visit) owners(serial string) (names []string) {
	if !v.writesPeople() {
		return nil
	}
	ties, err := v.ties(serial)
	if err != nil {
		return nil
	}
	for _, t := range ties {
		if t.GetRole() != ownerv1.Role_ROLE_OWNER {
			continue
		}
		if p, err := v.person(t); err == nil && p.GetFullName() != "" {
			names = append(names, p.GetFullName())
		}
	}
	return names
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
	by := map[string]string{"email": "by mail address", "phone": "by telephone"}
	for _, p := range people {
		// Two may have one name: where they live tells them apart.
		why := strings.Join(p.GetPerson().GetPostalLines(), ", ")
		if m := by[p.GetMatched()]; m != "" {
			why = strings.TrimSuffix(m+"; "+why, "; ")
		}
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
	b := block{Heading: "Parts of the catalogue"}
	for _, p := range f.parts {
		e := entry{Term: bare(p.GetPart().GetName()), Mono: true, Text: p.GetPart().GetTitle(), Sub: matchWords[p.GetMatch()]}
		e.Path = "/works/parts/" + url.PathEscape(e.Term)
		if f.open != "" {
			e.Path = partsPath(f.open, e.Term)
		}
		b.List = append(b.List, e)
	}
	if f.open != "" {
		b.Text = []string{"Which of them fits, the vehicle decides."}
		return []block{b}
	}
	ask := block{Heading: "Which vehicle?", Text: []string{"Which part fits, the vehicle decides: ask for the serial."}, Form: &form{
		ID: "which", Get: true, Short: true, Action: "/find", Submit: "Answer for it", Fields: []field{
			{Name: "q", Type: "hidden", Value: f.said}, {Name: "serial", Label: "Its serial", Type: "search", Autocomplete: "off", Hint: "In one word or as it is spoken."},
		}}}
	return []block{ask, b}
}

// matchWords say how a part was met, where it is not simply called so.
var matchWords = map[partsv1.PartMatch]string{
	partsv1.PartMatch_PART_MATCH_NUMBER: "by its number", partsv1.PartMatch_PART_MATCH_OTHER_NUMBER: "by another number of it",
	partsv1.PartMatch_PART_MATCH_SUPERSESSION: "by supersession",
	partsv1.PartMatch_PART_MATCH_BEGINNING:    "by beginnings of words", partsv1.PartMatch_PART_MATCH_MISSPELT: "by one wrong letter",
	partsv1.PartMatch_PART_MATCH_NEAR_NUMBER: "a number one character away",
}
