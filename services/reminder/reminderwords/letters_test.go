package reminderwords

import (
	"time"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// The letters that tests print. Names and numbers are invented; telephone
// numbers are from the range Ofcom keeps for drama, 01632 960000 to 960999
// (from memory).

var aldermoor = Works{
	Name: "Aldermoor Works", From: "service@aldermoor.example", ReplyTo: "workshop@aldermoor.example",
	Phone: "+44 1632 960983", UnsubscribeMail: "stop@aldermoor.example",
}

func day(y int, m time.Month, d int) vehicle.Date { return vehicle.MustDate(y, m, d) }

func quantity(text string) vehicle.Quantity {
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return q
}

func zone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

func serial(body string) vehicle.Serial {
	s, err := vehicle.NewSerial(body)
	if err != nil {
		panic(err)
	}
	return s
}

// earlyOil is one item in good time, for a reader of miles in Britain.
func earlyOil() Letter {
	oil := reminder.Item{
		ID: "E01", Cycle: "E01.2026-05-01", Title: "Change engine oil and filter", ActBy: day(2027, time.May, 1),
		LastDone: day(2026, time.May, 1), DrivenSince: 180 * vehicle.Mile, DueDistance: 14_230 * vehicle.Mile,
		Sentence: "Due 12 months after the last change on 1 May 2026, although only 180 miles were driven since.",
		Why:      "Oil that stands takes up water and acids from short runs, and they eat the bearings while the vehicle sleeps.",
		Caution:  "Hot oil burns: let the engine cool until the sump can be touched. Stand the vehicle on level ground with chocks before going under it.",
		Fluid:    &reminder.Fluid{Name: "SAE 20W-50 API SF or better", Quantity: quantity("6.2 l")},
		Parts:    []reminder.PartNeed{{Position: "engine-oil-filter"}},
	}
	return Letter{
		Works: aldermoor,
		Draft: reminder.Draft{
			Vehicle: reminder.Vehicle{Serial: serial("AM0147"), Unit: vehicle.Miles, Estimated: 11_410 * vehicle.Mile, LastReading: day(2026, time.November, 2)},
			To: reminder.Recipient{
				Person: "p0031", Name: "Margaret Hale", Address: "margaret.hale@harbour.example", Language: "en-GB",
				Unit: vehicle.Miles, Zone: zone("Europe/London"),
			},
			Channel: reminder.Mail, Stage: reminder.Early, Lines: []reminder.Line{{Item: oil, Stage: reminder.Early}},
		},
		Parts: map[string][]Part{"E01.2026-05-01": {
			{Number: "AP-1107", Title: "Oil filter element", Position: "engine-oil-filter", Quantity: 1},
			{Number: "AP-1108", Title: "Filter bowl seal", Quantity: 1},
		}},
		Links: Links{Odometer: "https://owners.aldermoor.example/l/AQAAAAFvAAECAwQFBgcIAAAAAGjdeABBTTAxNDdQLnAwMDMxABCDEFGHIJKLMNOPQRSTUV",
			Stop: "https://owners.aldermoor.example/l/AQAAAAF1AAECAwQFBgcIAAAAAGjdeABBTTAxNDdQLnAwMDMxABCDEFGHIJKLMNOPQRSTUV"},
		MessageID: reminder.MessageID("AM0147P.E01.2026-05-01.early.mail.p0031", "aldermoor.example"),
		Time:      time.Date(2027, time.April, 1, 9, 12, 0, 0, time.UTC),
	}
}

// overdueVisit is several items of a sample programme, for a reader of
// kilometres whose dates begin with the month.
func overdueVisit() Letter {
	l := earlyOil()
	l.Works.UnsubscribeMail = ""
	l.Draft.Vehicle = reminder.Vehicle{Serial: serial("AM0093"), Sample: true, Unit: vehicle.Miles, Estimated: 8_200 * vehicle.Mile, LastReading: day(2026, time.June, 20)}
	l.Draft.To = reminder.Recipient{
		Person: "p0044", Name: "José Ångström-Okafor", Address: "jose@shore.example", Language: "en-US",
		Unit: vehicle.Kilometres, Zone: zone("America/New_York"),
	}
	l.Draft.Stage = reminder.Overdue
	l.Draft.Lines = []reminder.Line{
		{Stage: reminder.Overdue, Item: reminder.Item{
			ID: "T02", Cycle: "T02.2026-01-10", Title: "Transfer case: output-shaft end-float and re-shim check", ActBy: day(2026, time.July, 10),
			LastDone: day(2026, time.January, 10), DrivenSince: 420 * vehicle.Mile,
			Sentence: "Due 6 months after the re-shim on 10 January 2026; 420 miles were driven since.",
			Why:      "New shims and bearings bed in; a float that grows is seen here first.",
			Caution:  "Chock the wheels: the brake on the transfer-case output does not hold with a driven wheel raised, a half shaft out or a propshaft off.",
			Fluid:    &reminder.Fluid{Name: "SAE 80W-90 API GL-4", Quantity: quantity("2.5 l"), NeverMix: "GL-5 where bronze parts are fitted"},
			Measured: []reminder.Measure{{
				Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Action: "0.20",
				Method: "cold, dial gauge on the flange, push and pull by hand, three times",
			}},
			Tools: []string{"dial gauge", "flange puller"},
		}},
		{Stage: reminder.Overdue, Item: reminder.Item{
			ID: "B03", Cycle: "B03.2024-07-30", Title: "Renew the brake fluid", ActBy: day(2026, time.July, 30),
			LastDone: day(2024, time.July, 30), DrivenSince: 1_310 * vehicle.Mile,
			Sentence: "Due 24 months after the last renewal on 30 July 2024.",
			Why:      "The fluid takes up water through the hoses; then it boils sooner and rusts the cylinders from within.",
			Caution:  "Brake fluid harms paint, eyes and skin.",
			Fluid:    &reminder.Fluid{Name: "DOT 4", Quantity: quantity("1.0 l"), NeverMix: "DOT 5 silicone fluid."},
		}},
		{Stage: reminder.Early, Item: reminder.Item{
			ID: "X01", Cycle: "X01.2026-02-20", Title: "Battery rest-voltage check", ActBy: day(2026, time.August, 20),
			Sentence: "Due 6 months after the last check on 20 February 2026.",
			Measured: []reminder.Measure{{Characteristic: "rest-voltage", Unit: "V", Lower: "12.6", Action: "12.3"}},
		}},
	}
	l.Parts = map[string][]Part{"T02.2026-01-10": {
		{Number: "AP-2041", Title: "Output housing gasket", Position: "transfer-case-output", Quantity: 1},
		{Title: "Shim set", Position: "transfer-case-output", IfNeeded: true},
		{Number: "AP-2050", Title: "Locking tab", Position: "transfer-case-output", Quantity: 2, Caution: "Never use a bent tab twice: a nut that works loose locks the transmission."},
	}}
	l.MessageID = reminder.MessageID("AM0093.T02", "aldermoor.example")
	l.Time = time.Date(2026, time.August, 9, 15, 0, 0, 0, time.UTC)
	return l
}

// askReading is a request for a reading and nothing else.
func askReading() Letter {
	l := earlyOil()
	l.Draft.Vehicle.Sample = true
	l.Draft.Lines = []reminder.Line{{Stage: reminder.Early, Item: reminder.Item{
		ID: "READ", Cycle: "READ.2026-11-02", Title: "Report what the odometer shows", ActBy: day(2027, time.April, 1), Reading: true,
		Sentence: "By distance the oil change may come before 1 August 2027, and a new number tells us.",
	}}}
	l.Parts = nil
	return l
}

// dueTorque is what an event started, without any link.
func dueTorque() Letter {
	l := earlyOil()
	l.Links = Links{}
	l.Works.Phone, l.Works.ReplyTo = "", ""
	l.Draft.Vehicle = reminder.Vehicle{Serial: serial("AM0147"), Unit: vehicle.Miles}
	l.Draft.To.Name = ""
	l.Draft.Stage = reminder.Due
	l.Draft.Lines = []reminder.Line{{Stage: reminder.Due, Item: reminder.Item{
		ID: "W01", Cycle: "W01.2026-08-01", Title: "Re-torque the wheel nuts", ActBy: day(2026, time.August, 12), NotBefore: day(2026, time.August, 5),
		Sentence: "The wheels were refitted on 1 August 2026: check the nuts between 30 and 100 miles after it.",
		Why:      "New paint and faces settle under the nuts.",
		Caution:  "Torque with the wheel on the ground and the vehicle chocked.",
	}}}
	l.Parts = nil
	l.Time = time.Date(2026, time.August, 12, 8, 30, 0, 0, time.UTC)
	return l
}
