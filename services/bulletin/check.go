package bulletin

import (
	"fmt"
	"regexp"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// What a bulletin can be.
const (
	maxTitle    = 200   // characters
	maxText     = 4_000 // characters of any other text
	maxItems    = 50
	maxVersions = 9_999
	maxLetters  = 12
	maxDays     = 3_650
	minRepeat   = 7 // days between letters, so that no slip writes daily
	maxMinutes  = 10_000
	maxPieces   = 1_000
)

var (
	bulletinID   = regexp.MustCompile(`^[A-Z][A-Z0-9]*(-[A-Z0-9]+)*$`)
	itemID       = regexp.MustCompile(`^[A-Z]{1,3}[0-9]{1,3}[A-Z]{0,2}$`)
	positionName = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
)

const maxID = 40

// Check says everything that is wrong with a draft, in the words of the API's
// fields. The error is of kind Invalid.
func (b *Bulletin) Check(compiler vehicle.PredicateCompiler) error {
	c := &checking{}
	c.must(len(b.ID) <= maxID && bulletinID.MatchString(b.ID) && b.Version >= 1 && b.Version <= maxVersions, "name", b.Name(),
		"bulletins/BULLETIN/versions/NUMBER in capitals, digits and hyphens, as in bulletins/C-2026-02/versions/1")
	c.must(b.Kind == Advice || b.Kind == Campaign, "kind", itoa(int(b.Kind)), "advice or campaign")
	c.text("title", b.Title, maxTitle, true)
	c.text("fault", b.Fault, maxText, true)
	c.text("consequence", b.Consequence, maxText, true)
	c.text("meanwhile", b.Meanwhile, maxText, b.StopUse)
	c.text("caution", b.Caution, maxText, b.Safety())
	c.text("signed_by", b.SignedBy, maxTitle, false)
	c.must(b.Kind != Campaign || len(b.Remedy) > 0, "remedy", "", "at least one item: a campaign is carried out")
	c.must(!b.Determined.After(b.Reported) || b.Reported.IsZero(), "report_date", b.Reported.String(), "not before "+b.Determined.String())
	c.plan(b)
	c.remedy(b)
	if _, err := Prepare(*b, compiler); err != nil {
		c.wrong = append(c.wrong, fault.FieldsOf("", err)...)
	}
	return fault.InvalidFields(c.wrong)
}

// checking collects what is wrong with a draft.
type checking struct{ wrong []fault.Field }

func (c *checking) must(ok bool, name, got, want string) {
	if !ok {
		c.wrong = append(c.wrong, fault.Field{Name: name, Got: got, Want: want})
	}
}

func (c *checking) text(name, text string, most int, needed bool) {
	c.must(!fault.Longer(text, most), name, fault.Length(text), fault.AtMost(most))
	c.must(!needed || strings.TrimSpace(text) != "", name, text, "text")
}

func (c *checking) plan(b *Bulletin) {
	p := &b.Plan
	c.must(len(p.LetterDays) <= maxLetters, "follow_up.letter_days", itoa(len(p.LetterDays))+" letters", "at most "+itoa(maxLetters))
	before := -1
	for i, d := range p.LetterDays {
		c.must(d > before && d <= maxDays, fmt.Sprintf("follow_up.letter_days[%d]", i), itoa(d), fmt.Sprintf("more than the one before, at most %d", maxDays))
		before = d
	}
	repeat := "follow_up.repeat_days"
	switch {
	case p.RepeatDays == NoRepeat:
		c.must(!b.Safety(), repeat, itoa(p.RepeatDays), "letters that go on: somebody can be hurt")
	case p.RepeatDays != 0:
		c.must(p.RepeatDays >= minRepeat && p.RepeatDays <= maxDays, repeat, itoa(p.RepeatDays),
			fmt.Sprintf("%d to %d, 0 for each year, %d for never", minRepeat, maxDays, NoRepeat))
	}
}

func (c *checking) remedy(b *Bulletin) {
	c.must(len(b.Remedy) <= maxItems, "remedy", itoa(len(b.Remedy))+" items", "at most "+itoa(maxItems))
	seen := map[string]bool{}
	for i := range b.Remedy {
		item, at := &b.Remedy[i], fmt.Sprintf("remedy[%d]", i)
		c.must(itemID.MatchString(item.ID) && !seen[item.ID], at+".item_id", item.ID, "a short name, as in C1, that no other item has")
		seen[item.ID] = true
		c.item(at, item)
	}
}

func (c *checking) item(at string, item *RemedyItem) {
	c.text(at+".title", item.Title, maxTitle, true)
	c.text(at+".caution", item.Caution, maxText, false)
	c.must(item.Minutes >= 0 && item.Minutes <= maxMinutes, at+".minutes", itoa(item.Minutes), "0 to "+itoa(maxMinutes))
	c.must(len(item.Parts) <= maxUsed, at+".parts", itoa(len(item.Parts))+" parts", "at most "+itoa(maxUsed))
	for k, p := range item.Parts {
		part := fmt.Sprintf("%s.parts[%d]", at, k)
		c.must(len(folded([]string{p.Part})) == 1 && !folded([]string{p.Part})[""], part+".part", p.Part, "a part number")
		c.must(p.Position == "" || positionName.MatchString(p.Position), part+".position", p.Position, "a position, as in front-axle-differential")
		c.must(p.Quantity >= 1 && p.Quantity <= maxPieces, part+".quantity", itoa(p.Quantity), "1 to "+itoa(maxPieces))
	}
	for k := range item.Measured {
		m, value := &item.Measured[k], fmt.Sprintf("%s.measured[%d]", at, k)
		c.must(positionName.MatchString(m.Characteristic), value+".characteristic", m.Characteristic, "a word, as in end-float")
		c.must(m.Unit != "", value+".unit", "", "a unit, as in mm")
		c.must(m.Lower != nil || m.Upper != nil, value, "", "a lower limit, an upper one, or both")
		if m.Lower != nil && m.Upper != nil {
			c.must(m.Lower.Cmp(*m.Upper) <= 0, value+".upper", m.Upper.String(), "not below "+m.Lower.String())
		}
	}
	again := item.Reinspection
	c.must(again.Days >= 0 && again.Days <= maxDays, at+".reinspection.days", itoa(again.Days), "0 to "+itoa(maxDays))
	c.must(again.Distance >= 0, at+".reinspection.distance", again.Distance.Text(vehicle.Kilometres), "0 or more")
}

// Issue gives the draft as it is issued on a day. A bulletin is signed by the
// works' engineer, or marked as a sample. The error is of kind
// FailedPrecondition for what is no draft, of kind Invalid for a draft that is
// not whole.
func (b Bulletin) Issue(on vehicle.Date, compiler vehicle.PredicateCompiler) (Bulletin, error) {
	if b.State != Draft {
		return b, notInState(&b, "a draft")
	}
	var wrong []fault.Field
	if err := b.Check(compiler); err != nil {
		wrong = fault.FieldsOf("", err)
	}
	if !b.Sample && strings.TrimSpace(b.SignedBy) == "" {
		wrong = append(wrong, fault.Field{Name: "signed_by", Want: "the engineer's name, or sample: true"})
	}
	if on.IsZero() {
		wrong = append(wrong, fault.Field{Name: "issue_date", Want: "the day of the issue"})
	}
	if err := fault.InvalidFields(wrong); err != nil {
		return b, err
	}
	b.State, b.Issued = Issued, on
	return b, nil
}

// Withdraw takes an issued version back, with a reason; by names the bulletin
// that takes its place, empty for none, and makes it superseded.
func (b Bulletin) Withdraw(reason, by string) (Bulletin, error) {
	if b.State != Issued {
		return b, notInState(&b, "issued")
	}
	c := &checking{}
	c.text("reason", reason, maxText, true)
	c.must(by == "" || bulletinID.MatchString(by) && by != b.ID, "superseded_by", by, "another bulletin, as in bulletins/C-2026-05")
	if err := fault.InvalidFields(c.wrong); err != nil {
		return b, err
	}
	b.State, b.WithdrawReason, b.SupersededBy = Withdrawn, reason, by
	if by != "" {
		b.State = Superseded
	}
	return b, nil
}

// Supersede gives the version as it is once a later version is issued.
func (b Bulletin) Supersede() (Bulletin, error) {
	if b.State != Issued {
		return b, notInState(&b, "issued")
	}
	b.State, b.SupersededBy = Superseded, b.ID
	return b, nil
}

// Next gives the draft of the next version, from the latest. Nobody has signed
// it yet.
func (b Bulletin) Next() Bulletin {
	b.Version++
	b.State, b.Issued, b.SupersededBy, b.WithdrawReason, b.SignedBy = Draft, vehicle.Date{}, "", "", ""
	return b
}

func notInState(b *Bulletin, want string) error {
	words := [...]string{"of no state", "a draft", "issued", "superseded", "withdrawn"}
	is := words[0]
	if b.State > NoState && int(b.State) < len(words) {
		is = words[b.State]
	}
	return fault.New(fault.FailedPrecondition, "BULLETIN_STATE", "%s is %s, and would have to be %s.", b.Name(), is, want)
}
