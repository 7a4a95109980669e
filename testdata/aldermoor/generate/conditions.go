package main

// when says for which vehicles a row of the catalogue or of the technical data
// holds. What is empty does not matter; lists are separated by "; ".
type when struct {
	releases, options, without string // without: options that are not in force
	applies                    string // over the configuration
	first, last, except        string // serials
	from, until                string // built on these days or between
	markets, lots              string
	with                       string // parts that are on the vehicle
	otherwise                  bool   // where no other row of the position holds
}

// The releases that have something in common.
const (
	r1to2 = "R1; R2"
	r1to3 = "R1; R2; R3"
	r1to4 = "R1; R2; R3; R4"
	r2on  = "R2; R3; R4; R5"
	r3on  = "R3; R4; R5"
	r4on  = "R4; R5"
	r5    = "R5"
)

// other is the condition of the row that holds where no other does.
var other = when{otherwise: true}

// What is fitted decides, whichever option or change brought it there.
const (
	drumFront      = `"brakes-front" in fitted && "drum" in fitted["brakes-front"]`
	discFront      = `"brakes-front" in fitted && "disc" in fitted["brakes-front"]`
	glycolFluid    = `"brake-hydraulics" in fitted && "glycol-dot4" in fitted["brake-hydraulics"]`
	siliconeFluid  = `"brake-hydraulics" in fitted && "silicone-dot5" in fitted["brake-hydraulics"]`
	longWheelbase  = `wheelbase == "long"`
	shortWheelbase = `wheelbase == "short"`
)

// fittedWith holds where what stands at a position has a trait.
func fittedWith(position, trait string) when {
	return when{applies: `"` + position + `" in fitted && "` + trait + `" in fitted["` + position + `"]`}
}

var whenColumns = []string{"releases", "options", "without options", "applies when", "first serial", "last serial", "except serials",
	"built from", "built until", "markets", "lots", "together with", "otherwise"}

// write puts the condition into a row.
func (c when) write(row cells) {
	row["releases"], row["options"], row["without options"], row["applies when"] = c.releases, c.options, c.without, c.applies
	row["first serial"], row["last serial"], row["except serials"] = c.first, c.last, c.except
	row["built from"], row["built until"], row["markets"], row["lots"], row["together with"] = c.from, c.until, c.markets, c.lots, c.with
	if c.otherwise {
		row["otherwise"] = "yes"
	}
}
