package handbook

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"
)

// shown writes pieces so that a person can compare them.
func shown(pieces []piece) string {
	var all []string
	for _, p := range pieces {
		switch p.kind {
		case asked:
			all = append(all, p.ask.String())
		case emphasised:
			all = append(all, "<"+p.text+">")
		case strong:
			all = append(all, "<<"+p.text+">>")
		default:
			all = append(all, p.text)
		}
	}
	return strings.Join(all, "|")
}

func TestTheMarksOfATextAreRead(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"a plain text is one piece", "Oil, then petrol.", "Oil, then petrol."},
		{"one asterisk emphasises", "let *down* first", "let |<down>| first"},
		{"two asterisks are strong", "**never** mix", "<<never>>| mix"},
		{"a value stands by itself", "at {setting tyres pressure on soft sand}, cold", "at |{setting tyres pressure on soft sand}|, cold"},
		{"spaces in braces do not count", "{ serial }", "{serial}"},
		{"a reference is asked for too", "see {see wading-plug}.", "see |{see wading-plug}|."},
		{"escaped marks are letters", `a \* and \{ and \} and \\`, `a * and { and } and \`},
		{"letters of other alphabets stay", "½ *λ*", "½ |<λ>"},
	} {
		t.Run(c.name, func(t *testing.T) {
			pieces, wrong := markup(c.text)
			if got := shown(pieces); got != c.want || len(wrong) > 0 {
				t.Errorf("got %s (%s), want %s", got, wrong, c.want)
			}
		})
	}
}

func TestWhatIsWrongWithTheMarksIsSaidAllAtOnce(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"an asterisk is left open", "so *it is", []string{"an asterisk that ends"}},
		{"a brace is left open", "at {serial", []string{"a brace that closes"}},
		{"a brace closes nothing", "at serial}", []string{"a brace that opens"}},
		{"nothing in the braces", "at {}", []string{"what to put in the braces"}},
		{"a name that there is not", "at {speeed 4 high 2500}", []string{"one of capacity"}},
		{"arguments that are missing", "{setting tyres}", []string{"{setting POSITION CHARACTERISTIC"}},
		{"a gear that is none", "{speed top high 2500}", []string{"as in {speed 4 high 2500}"}},
		{"a backslash before a letter", `a \n`, []string{"a backslash only before"}},
		{"nothing between asterisks", "a ** ** b", nil},
		{"several at once", `{nonsense} \n *open`, []string{"one of capacity", "a backslash only", "an asterisk that ends"}},
		{"a value within emphasis", "*{serial}*", []string{"outside asterisks", "some words between asterisks"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, wrong := markup(c.text)
			if len(wrong) != len(c.want) {
				t.Fatalf("got %q, want %q", wrong, c.want)
			}
			for i, w := range c.want {
				if !strings.Contains(wrong[i], w) {
					t.Errorf("got %q, want %q in it", wrong[i], w)
				}
			}
		})
	}
}

// Whatever somebody writes, reading it ends, and a text without faults says the
// same when it is written from its pieces and read again.
func FuzzMarkup(f *testing.F) {
	for _, seed := range []string{"plain", "*a* **b** {serial}", `\{x\} {see y}`, "***", "{speed 4 high 2500}", "{", "}*{", `\`} {
		f.Add(seed)
	}
	escape := strings.NewReplacer(`\`, `\\`, "{", `\{`, "}", `\}`, "*", `\*`)
	f.Fuzz(func(t *testing.T, text string) {
		pieces, wrong := markup(text)
		if len(wrong) > 0 {
			return
		}
		var again strings.Builder
		for _, p := range pieces {
			switch p.kind {
			case asked:
				again.WriteString(p.ask.String())
			case emphasised:
				fmt.Fprintf(&again, "*%s*", escape.Replace(p.text))
			case strong:
				fmt.Fprintf(&again, "**%s**", escape.Replace(p.text))
			default:
				again.WriteString(escape.Replace(p.text))
			}
		}
		second, wrong := markup(again.String())
		if utf8.ValidString(text) && (len(wrong) > 0 || shown(second) != shown(pieces)) {
			t.Errorf("%q is %s, and written again, %q, %s (%s)", text, shown(pieces), again.String(), shown(second), wrong)
		}
	})
}
