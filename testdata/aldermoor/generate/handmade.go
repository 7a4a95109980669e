package main

// handMadeParts are the parts of the hard cases, and kits and shims that no
// table of assemblies tells.
var handMadeParts = []cells{
	{"part": "AP-2070", "title": "Re-shim kit, output shaft", "words": "shim kit; reshim kit; end float kit; endfloat kit", "positions": "output-shaft-bearing", "unit": "set", "status": "orderable", "contents": "AP-20401 x1; AP-20402 x1; AP-20403 x1; AP-20404 x1; AP-20405 x2; AP-20406 x1; AP-2071 x1", "caution": propCaution, "weight": "0.5 kg"},
	{"part": "AP-2071", "title": "Shim set, output shaft, 0.08 to 0.51 mm", "words": "shims", "unit": "set", "status": "orderable", "weight": "0.08 kg"},
	{"part": "AP-2072", "title": "Shim pack, output shaft, old pattern", "words": "shim pack; shims", "positions": "output-shaft-bearing", "unit": "set", "status": "unavailable", "drawing": "ADR-2072"},
	{"part": "AP-2073", "title": "Shim, output shaft, 0.08 mm", "words": "3 thou shim", "unit": "each", "minimum quantity": "5", "status": "orderable", "weight": "0.01 kg", "sizes": "thickness 0.08 mm"},
	{"part": "AP-2074", "title": "Shim, output shaft, 0.13 mm", "words": "5 thou shim", "unit": "each", "minimum quantity": "5", "status": "orderable", "weight": "0.01 kg", "sizes": "thickness 0.13 mm"},
	{"part": "AP-2075", "title": "Shim, output shaft, 0.25 mm", "words": "10 thou shim", "unit": "each", "minimum quantity": "5", "status": "orderable", "weight": "0.01 kg", "sizes": "thickness 0.25 mm"},
	{"part": "AP-2076", "title": "Shim, output shaft, 0.51 mm", "words": "20 thou shim", "unit": "each", "minimum quantity": "5", "status": "orderable", "weight": "0.01 kg", "sizes": "thickness 0.51 mm"},
	{"part": "AP-3141", "title": "Shim, swivel pin, 0.08 mm", "words": "king pin shim; 3 thou shim", "unit": "each", "minimum quantity": "5", "status": "orderable", "weight": "0.01 kg", "sizes": "thickness 0.08 mm"},
	{"part": "AP-3142", "title": "Shim, swivel pin, 0.13 mm", "words": "king pin shim; 5 thou shim", "unit": "each", "minimum quantity": "5", "status": "orderable", "weight": "0.01 kg", "sizes": "thickness 0.13 mm"},
	{"part": "AP-3143", "title": "Shim, swivel pin, 0.25 mm", "words": "king pin shim; 10 thou shim", "unit": "each", "minimum quantity": "5", "status": "orderable", "weight": "0.01 kg", "sizes": "thickness 0.25 mm"},
	{"part": "AP-3144", "title": "Shim, swivel pin, 0.76 mm", "words": "king pin shim; 30 thou shim", "unit": "each", "minimum quantity": "5", "status": "orderable", "weight": "0.01 kg", "sizes": "thickness 0.76 mm"},
	{"part": "AP-5050", "title": "Frame outrigger, left", "words": "chassis outrigger", "hand": "left", "unit": "each", "status": "unavailable", "drawing": "ADR-5050", "notes": "Remade from the drawing by the works.", "weight": "2.1 kg"},
	{"part": "AP-5051", "title": "Frame outrigger, right", "words": "chassis outrigger", "hand": "right", "unit": "each", "status": "orderable", "weight": "2.1 kg"},
	{"part": "AP-1045", "title": "Distributor, electronic, for the owner's own fitting", "positions": "distributor", "unit": "each", "status": "orderable", "notes": "Not of the specification before R4.", "weight": "1.1 kg"},
	{"part": "AP-4047", "title": "Master cylinder, campaign pattern", "words": "brake cylinder", "unit": "each", "status": "orderable", "caution": "Never mix glycol and silicone brake fluids.", "weight": "1.6 kg"},
	{"part": "AP-6061", "title": "Speedometer, kilometres", "words": "speedo; odometer; clock; kilometre speedometer; km speedo", "positions": "speedometer", "unit": "each", "status": "orderable", "notes": "Counts kilometres: whoever fits it records the change of the dial, or the distance is lost.", "weight": "0.7 kg"},
	{"part": "AP-6071", "title": "Heater, twin outlet", "unit": "each", "status": "orderable", "renew with": "AP-60709 x1", "weight": "5.8 kg"},
	{"part": "AP-10419", "title": "Distributor, electronic: overhaul kit", "words": "fitting kit; service kit; repair kit", "positions": "distributor", "unit": "set", "status": "orderable", "contents": "AP-10401 x1; AP-10402 x1; AP-10404 x1; AP-104031 x1; AP-104032 x1"},
	{"part": "AP-11019", "title": "Fuel pump and inline filter: overhaul kit", "words": "fitting kit; service kit; repair kit", "positions": "fuel-system", "unit": "set", "status": "orderable", "contents": "AP-11001 x1; AP-11002 x1; AP-11003 x1; AP-11004 x1; AP-110022 x1", "caution": fireCaution},
	{"part": "AP-21119", "title": "Rear propshaft, sealed: fitting kit", "words": "fitting kit; service kit; repair kit", "positions": "propshaft-rear", "unit": "set", "status": "orderable", "contents": "AP-21104 x1; AP-21105 x4", "caution": propCaution},
	{"part": "AP-40059", "title": "Front disc brake set: overhaul kit", "words": "fitting kit; service kit; repair kit", "positions": "brakes-front", "unit": "set", "status": "orderable", "contents": "AP-400025 x2; AP-400027 x1; AP-400028 x4; AP-40006 x2", "caution": dustCaution},
	{"part": "AP-50419", "title": "Leaf spring, bronze bushes: overhaul kit", "words": "fitting kit; service kit; repair kit", "positions": "springs", "unit": "set", "status": "orderable", "contents": "AP-50401 x1; AP-50402 x1; AP-50403 x1; AP-50404 x1; AP-50405 x1; AP-504031 x1", "caution": "Stands under the frame, not under the axle."},
}

// replacements are parts that came to take another's place.
var replacements = []cells{
	{"part": "AP-1061", "title": "Fan belt, pattern 1", "words": "alternator belt; v-belt", "positions": "fan-belt", "unit": "each", "status": "orderable", "weight": "0.16 kg", "sizes": "length 925 mm"},
	{"part": "AP-1062", "title": "Fan belt, pattern 2", "words": "alternator belt; v-belt", "positions": "fan-belt", "unit": "each", "status": "orderable", "weight": "0.15 kg", "sizes": "length 925 mm"},
	{"part": "AP-1063", "title": "Fan belt, pattern 3", "words": "alternator belt; v-belt", "positions": "fan-belt", "unit": "each", "status": "orderable", "weight": "0.15 kg", "sizes": "length 925 mm"},
	{"part": "AP-1121", "title": "Exhaust front pipe", "unit": "each", "status": "orderable", "weight": "4.1 kg"},
	{"part": "AP-1122", "title": "Exhaust silencer with tail pipe", "words": "silencer; muffler; back box", "unit": "each", "status": "orderable", "weight": "7.6 kg"},
	{"part": "AP-6011", "title": "Alternator, 60 A", "words": "generator; dynamo", "positions": "alternator", "unit": "each", "status": "orderable", "caution": "Battery isolated.", "weight": "5.1 kg"},
	{"part": "AP-6021", "title": "Starter motor, geared", "words": "starter", "positions": "starter", "unit": "each", "status": "orderable", "weight": "5.2 kg"},
	{"part": "AP-5021", "title": "Steering damper, second pattern", "positions": "steering-damper", "unit": "each", "status": "orderable", "weight": "1.6 kg"},
	{"part": "AP-6041", "title": "Wiper set, longer blades", "positions": "wipers", "unit": "set", "status": "orderable", "weight": "2.5 kg"},
	{"part": "AP-107027", "title": "Fan shroud, one piece", "words": "fan cowl; fan guard", "positions": "cooling-system-fan-shroud-upper; cooling-system-fan-shroud-lower", "unit": "each", "status": "orderable", "weight": "0.94 kg"},
	{"part": "AP-109032", "title": "Choke cable, bare", "words": "choke wire", "positions": "carburettor-choke-cable", "unit": "each", "status": "orderable", "weight": "0.19 kg", "sizes": "length 980 mm"},
	{"part": "AP-109033", "title": "Choke knob with clamp", "words": "choke pull; choke button", "positions": "carburettor-choke-cable", "unit": "each", "status": "orderable", "weight": "0.05 kg"},
	{"part": "AP-206027", "title": "Shoe expander kit", "words": "handbrake expander kit", "positions": "parking-brake-expander", "unit": "set", "status": "orderable", "contents": "AP-206028 x1; AP-20602 x1; AP-20605 x1", "caution": holdCaution, "weight": "0.84 kg"},
	{"part": "AP-700033", "title": "Winch contactor, sealed", "words": "winch solenoid; winch relay; solenoid pack", "positions": "winch-solenoid-pack", "unit": "each", "status": "orderable", "weight": "0.88 kg", "sizes": "current 500 A"},
	{"part": "AP-604024", "title": "Wiper blade, jointless", "words": "windscreen wiper; windshield wiper; wiper rubber", "positions": "wipers-blade-left; wipers-blade-right", "unit": "each", "status": "orderable", "weight": "0.07 kg", "sizes": "length 265 mm"},
	{"part": "AP-320021", "title": "Hub nut with locking collar", "words": "axle nut; spindle nut; stake nut", "positions": "hub-front-left-nut; hub-front-right-nut; hub-rear-left-nut; hub-rear-right-nut", "unit": "each", "status": "orderable", "notes": "Used once.", "weight": "0.19 kg", "sizes": "thread M45x1.5"},
	{"part": "AP-206028", "title": "Shoe expander, stainless", "words": "handbrake expander; cam unit", "positions": "parking-brake-expander", "unit": "each", "status": "orderable", "weight": "0.72 kg"},
}

// hardCases are told in STORIES.md; the first is a chain of three, ending in a
// part that is to be had.
var hardCases = []cells{
	{"old part": "AP-1060", "new parts": "AP-1061 x1", "effective date": "2012-06-01", "old stock": "scrap", "text": "Longer, for the larger pulley."},
	{"old part": "AP-1061", "new parts": "AP-1062 x1", "effective date": "2016-06-01", "old stock": "use up", "text": "Notched, so that it bends cooler."},
	{"old part": "AP-1062", "new parts": "AP-1063 x1", "effective date": "2021-06-01", "old stock": "use up", "text": "Rubber that stands the heat of a closed bonnet."},
	{"old part": "AP-2072", "new parts": "AP-2070 x1", "effective date": "2016-01-01", "text": "The pack comes as a kit with gasket, seal and locking tabs, which a re-shim needs."},
	{"old part": "AP-1120", "new parts": "AP-1121 x1; AP-1122 x1", "effective date": "2018-05-01", "old stock": "use up", "text": "Split into front pipe and silencer."},
	{"old part": "AP-6010", "new parts": "AP-6011 x1", "effective date": "2017-09-01", "two way": "no", "together with": "AP-6001", "old stock": "keep", "text": "Only together with the AGM battery: the charging voltage differs."},
	{"old part": "AP-6020", "new parts": "AP-6021 x1", "effective date": "2020-04-01", "releases": "R4; R5", "old stock": "keep", "text": "Only for the frame of R4 and R5: the housing is larger."},
	{"old part": "AP-5020", "new parts": "AP-5021 x1", "effective date": "2014-02-01", "two way": "yes", "old stock": "use up", "text": "Either may be fitted."},
	{"old part": "AP-6040", "new parts": "AP-6041 x1", "effective date": "2021-02-01", "text": "Longer blades."},
	{"old part": "AP-107016", "also old parts": "AP-107017", "new parts": "AP-107027 x1", "effective date": "2019-05-01", "old stock": "use up", "text": "The two halves became one piece; a half alone is not to be had any more."},
	{"old part": "AP-109016", "new parts": "AP-109032 x1; AP-109033 x1", "effective date": "2022-10-01", "old stock": "use up", "text": "Split into cable and knob."},
	{"old part": "AP-206014", "new parts": "AP-206027 x1", "effective date": "2020-02-01", "old stock": "rework", "text": "The expander comes as a kit with the seal and the clip that it needs; old ones are plated again first."},
	{"old part": "AP-700021", "new parts": "AP-700033 x1", "effective date": "2018-11-01", "together with": "AP-6001", "old stock": "keep", "text": "Only together with the AGM battery."},
	{"old part": "AP-604014", "new parts": "AP-604024 x1", "effective date": "2026-09-01", "two way": "yes", "old stock": "use up", "text": "Without joints that rattle; from September 2026."},
	{"old part": "AP-320012", "also old parts": "AP-320013", "new parts": "AP-320021 x1", "effective date": "2021-03-01", "releases": "R4; R5", "old stock": "keep", "text": "Nut and washer in one, for the stub axle with a groove that R4 and R5 have."},
}
