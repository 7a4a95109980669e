package desk

import (
	"net/url"
	"testing"
)

// Commas group the digits of a number. One that parts decimals, as half of
// Europe writes them, is refused: taken out, it made ten or a hundred times as
// much of an odometer and of what a claim pays.
func TestACommaForDecimalsIsRefusedAndNotTakenOut(t *testing.T) {
	for text, want := range map[string]string{
		"41230": "41230", "41,230": "41230", "1,041,230.5": "1041230.5", "41230.5": "41230.5", "66,350 km": "66350",
		"41230,5": "", "41,5": "", "0,605": "", "41,2305": "", "4123,000": "", "12,34,567": "",
	} {
		form := typed{visit: sent(url.Values{"reading": {text}})}
		d := form.dial("reading", "mi")
		if d.GetEnteredValue() != want || (want == "") != (len(form.wrong) == 1) {
			t.Errorf("an odometer of %q is %q, refused %v; want %q", text, d.GetEnteredValue(), form.wrong, want)
		}
	}
	for text, want := range map[string]int64{"184.50": 18450, "1,184.50": 118450, "184": 18400, "184,50": 0, "1184,50": 0} {
		form := typed{visit: sent(url.Values{"amount": {text}})}
		if got := form.amount("amount"); got != want || (want == 0) != (len(form.wrong) == 1) {
			t.Errorf("an amount of %q is %d, refused %v; want %d", text, got, form.wrong, want)
		}
	}
}
