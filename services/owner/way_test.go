package owner

import (
	"strings"
	"testing"

	"halfshaft/services/vehicle"
)

func TestAMessageThatCameBackIsOfTheAddressAsItIsToday(t *testing.T) {
	p := Person{Email: "Ada.B@Nettlefold.example", Phone: "+441632960983", PostalLines: []string{"The Old Forge", "Nether Aldermoor"}}
	for _, c := range []struct {
		way     Way
		address string
		want    bool
	}{
		{Mail, "ada.b@nettlefold.EXAMPLE", true},
		{Mail, "adab@nettlefold.example", false},
		{Mail, "", false},
		{Text, "+44 1632 960983", true},
		{Text, "+441632960984", false},
		{Letter, "The Old Forge, Nether Aldermoor", true},
		{Letter, "the old forge\nnether aldermoor", true},
		{Letter, "The New Forge, Nether Aldermoor", false},
		{AnyWay, "ada.b@nettlefold.example", false},
	} {
		if got := p.IsAt(c.way, c.address); got != c.want {
			t.Errorf("%s, %q: got %v", c.way, c.address, got)
		}
	}
	if (Person{}).IsAt(Mail, "") || (Person{}).IsAt(Letter, " , ") {
		t.Error("somebody without an address is there")
	}
}

func TestAMarkStaysWithItsAddressAndGoesWithAnother(t *testing.T) {
	p := Person{Email: "a@x.example", Phone: "+441632960983", Created: morning}
	p = p.Marked(Undeliverable{Way: Mail, Since: morning, Reason: "550"}).Marked(Undeliverable{Way: Text, Since: morning})
	if again := p.Marked(Undeliverable{Way: Mail, Since: morning.AddDate(0, 0, 1)}); len(again.Undeliverable) != 2 || !again.Undeliverable[0].Since.Equal(morning) {
		t.Errorf("got %v", again.Undeliverable)
	}
	changed := Person{Email: "b@x.example", Phone: "+441632960983"}.Keeping(p)
	if len(changed.Undeliverable) != 1 || changed.Undeliverable[0].Way != Text {
		t.Errorf("got %v", changed.Undeliverable)
	}
	if none := (Person{Undeliverable: p.Undeliverable}).Keeping(Person{}); len(none.Undeliverable) != 0 {
		t.Errorf("got %v", none.Undeliverable)
	}
}

func TestWhatCameBackIsKeptWithoutAddresses(t *testing.T) {
	got := WithoutAddresses("550 5.1.1\r\n <ada@nettlefold.example>: no such user\x00 here " + strings.Repeat("é", 300))
	if strings.ContainsAny(got, "@\r\n\x00") || !strings.HasPrefix(got, "550 5.1.1 … no such user here é") || len([]rune(got)) != maxReason {
		t.Errorf("got %q", got)
	}
}

func TestTheNewFieldsOfAPersonAreChecked(t *testing.T) {
	today := vehicle.DateOf(morning)
	good := Person{FullName: "Ada", TimeZone: "UTC", Ways: []Way{Text, Letter, Mail}, MostMessages: 100, Deceased: today}
	if f := good.FaultsOn(today); len(f) > 0 {
		t.Errorf("got %v", f)
	}
	for field, spoil := range map[string]func(*Person){
		"contact_ways[1]": func(p *Person) { p.Ways = []Way{Mail, Mail} },
		"contact_ways[0]": func(p *Person) { p.Ways = []Way{AnyWay} },
		"contact_ways[2]": func(p *Person) { p.Ways = []Way{Mail, Text, 77} },
		"most_messages":   func(p *Person) { p.MostMessages = 101 },
		"deceased_date":   func(p *Person) { p.Deceased = today.AddDays(1) },
	} {
		p := good
		spoil(&p)
		if f := p.FaultsOn(today); len(f) != 1 || f[0].Name != field {
			t.Errorf("%s: got %v", field, f)
		}
	}
	for _, differs := range []Person{
		{FullName: "Ada", TimeZone: "UTC", Ways: []Way{Text, Mail, Letter}, MostMessages: 100, Deceased: today},
		{FullName: "Ada", TimeZone: "UTC", Ways: good.Ways, MostMessages: 99, Deceased: today},
		{FullName: "Ada", TimeZone: "UTC", Ways: good.Ways, MostMessages: 100},
		{FullName: "Ada", TimeZone: "UTC", Ways: good.Ways, MostMessages: 100, Deceased: today, Formats: "de-CH"},
	} {
		if good.Same(differs) {
			t.Errorf("%+v is taken for the same", differs)
		}
	}
}

func TestAStandingIsOfTodayOrEarlier(t *testing.T) {
	today := vehicle.DateOf(morning)
	good := Standing{State: Exported, Since: today, Note: "seen abroad"}
	if f := good.Faults(today); len(f) > 0 {
		t.Errorf("got %v", f)
	}
	for field, bad := range map[string]Standing{
		"state":      {Since: today},
		"since_date": {State: InUse, Since: today.AddDays(1)},
		"note":       {State: InUse, Since: today, Note: "two\nlines"},
	} {
		if f := bad.Faults(today); len(f) != 1 || f[0].Name != field {
			t.Errorf("%s: got %v", field, f)
		}
	}
}
