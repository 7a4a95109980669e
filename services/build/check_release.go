package build

import (
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/drivetrain"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// The most that one release has.
const (
	maxFitments = 500
	maxOptions  = 64
	maxQuantity = 1000
	maxGears    = 8
	maxDrives   = 200
)

// CheckRelease gives everything that is wrong with a release, by the paths of
// its fields in the API; nothing when it may be frozen.
func CheckRelease(r *Release) []fault.Field {
	var c checker
	if !isReleaseID(r.ID) {
		c.refuse("name", ReleaseName(r.ID), "releases/ and up to 32 letters, digits, dots and hyphens, as in releases/R3")
	}
	c.line("title", r.Title)
	c.prose("notes", r.Notes)
	if r.Effective.IsZero() {
		c.refuse("effective_date", "", "the first day on which a vehicle could be built to it")
	}
	if r.Programme != "" && !isReleaseID(r.Programme) {
		c.refuse("programme", ProgrammeName(r.Programme), "programmes/ and an identifier, as in programmes/packhorse")
	}
	if len(r.Fitments) == 0 {
		c.refuse("fitments", "", "at least one position")
	}
	c.fitments("fitments", r.Fitments)
	c.options(r)
	c.within(r)
	c.ratios(r)
	c.driveline(&r.Driveline)
	return c.wrong
}

func isReleaseID(id string) bool {
	return id != "" && len(id) <= 32 && !strings.ContainsFunc(id, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '.' && r != '-'
	})
}

// fitments wants each position once, with a part.
func (c *checker) fitments(list string, fitments []Fitment) {
	c.many(list, len(fitments), maxFitments)
	seen := map[string]bool{}
	for i, f := range fitments {
		c.word(fieldOf(list, i, "position"), f.Position)
		if seen[f.Position] {
			c.refuse(fieldOf(list, i, "position"), f.Position, "each position once")
		}
		seen[f.Position] = true
		if f.Part == "" {
			c.refuse(fieldOf(list, i, "part"), "", "the part number of the works, as in AP-2041")
		}
		c.number(fieldOf(list, i, "part"), f.Part)
		if f.Quantity < 0 || f.Quantity > maxQuantity {
			c.refuse(fieldOf(list, i, "quantity"), strconv.Itoa(f.Quantity), "0 to 1000; 0 counts as 1")
		}
		c.words(fieldOf(list, i, "traits"), f.Traits)
		c.line(fieldOf(list, i, "note"), f.Note)
	}
}

// within wants the assembly that something is in to be a position of the release
// or of an option, and nothing to be in itself.
func (c *checker) within(r *Release) {
	in := map[string]string{}
	look := func(list string, fitments []Fitment) {
		for i := range fitments {
			if f := &fitments[i]; f.Within != "" {
				if !r.Knows(f.Within) {
					c.refuse(fieldOf(list, i, "within"), f.Within, "a position of the release or of an option: the assembly that it is in")
				}
				in[f.Position] = f.Within
			}
		}
	}
	look("fitments", r.Fitments)
	for i := range r.Options {
		look(fieldOf("options", i, "fitments"), r.Options[i].Fitments)
	}
	for i := range r.Fitments {
		at := r.Fitments[i].Position
		for range deepest + 1 {
			if at = in[at]; at == "" {
				break
			}
		}
		if at != "" {
			c.refuse(fieldOf("fitments", i, "within"), r.Fitments[i].Within, "an assembly that is not in the thing itself, nor more than eight deep")
		}
	}
}

// options wants what they name to exist: other options, and positions to leave
// empty that the standard or another option fills.
func (c *checker) options(r *Release) {
	c.many("options", len(r.Options), maxOptions)
	seen := map[string]bool{}
	for i := range r.Options {
		o := &r.Options[i]
		c.word(fieldOf("options", i, "option_id"), o.ID)
		if seen[o.ID] {
			c.refuse(fieldOf("options", i, "option_id"), o.ID, "each option once")
		}
		seen[o.ID] = true
		c.line(fieldOf("options", i, "title"), o.Title)
		c.fitments(fieldOf("options", i, "fitments"), o.Fitments)
		c.words(fieldOf("options", i, "removes"), o.Removes)
		for j, position := range o.Removes {
			name := index(fieldOf("options", i, "removes"), j)
			switch {
			case !r.Knows(position):
				c.refuse(name, position, "a position of this release")
			case o.Fitment(position) != nil:
				c.refuse(name, position, "a position that the option does not fill itself")
			}
		}
		c.otherOptions(r, o, fieldOf("options", i, "requires"), o.Requires)
		c.otherOptions(r, o, fieldOf("options", i, "excludes"), o.Excludes)
		for j, id := range o.Requires {
			if slices.Contains(o.Excludes, id) {
				c.refuse(index(fieldOf("options", i, "requires"), j), id, "an option that it does not also rule out")
			}
		}
	}
}

func (c *checker) otherOptions(r *Release, o *Option, list string, ids []string) {
	c.unique(list, ids)
	for j, id := range ids {
		if r.Option(id) == nil || id == o.ID {
			c.refuse(index(list, j), id, "another option of this release")
		}
	}
}

// driveline wants a drive line from which the odometer's factor follows.
func (c *checker) driveline(d *Driveline) {
	c.many("driveline.gears", len(d.Gears), maxGears)
	for i, ratio := range d.Gears {
		c.ratio(index("driveline.gears", i), ratio)
	}
	if d.TransferHigh.Sign() != 0 {
		c.ratio("driveline.transfer_high", d.TransferHigh)
	}
	if d.TransferLow.Sign() != 0 {
		c.ratio("driveline.transfer_low", d.TransferLow)
		if d.TransferHigh.Sign() == 0 {
			c.refuse("driveline.transfer_high", "", "the ratio in high range, where low range has one")
		}
	}
	for i, gear := range d.Synchronised {
		if gear < 1 || gear > len(d.Gears) {
			c.refuse(index("driveline.synchronised_gears", i), strconv.Itoa(gear), "one of the gears, counted from 1")
		}
	}
	if d.Tyre.Size == "" {
		c.refuse("driveline.tyre.size", "", "the size of the standard tyre, as in 7.50-16")
	}
	c.counting("driveline.", d.Tyre, d.Drive, d.Dial)
	c.many("driveline.available_speedometer_drives", len(d.Drives), maxDrives)
	for i, pair := range d.Drives {
		c.wrong = append(c.wrong, fault.FieldsUnder(index("driveline.available_speedometer_drives", i), pair.Validate())...)
	}
}

// ratios wants them of a gearbox or transfer case that an option puts in place
// of the standard one, and one and the same for each part.
func (c *checker) ratios(r *Release) {
	for i := range r.Fitments {
		if len(r.Fitments[i].Ratios) > 0 {
			c.refuse(fieldOf("fitments", i, "ratios"), "ratios", "none: those of the standard vehicle stand in driveline")
		}
	}
	for i := range r.Options {
		for j := range r.Options[i].Fitments {
			c.optionRatios(r, &r.Options[i].Fitments[j], fieldOf(fieldOf("options", i, "fitments"), j, "ratios"))
		}
	}
}

func (c *checker) optionRatios(r *Release, f *Fitment, name string) {
	if len(f.Ratios) == 0 {
		return
	}
	switch f.Position {
	case GearboxPosition:
		c.many(name, len(f.Ratios), maxGears)
	case TransferCasePosition:
		c.many(name, len(f.Ratios), len(rangeNames))
	default:
		c.refuse(name, "ratios", "none but of a part at "+GearboxPosition+" or "+TransferCasePosition)
	}
	for k, ratio := range f.Ratios {
		c.ratio(index(name, k), ratio)
	}
	if known := r.ratios(f.Position, f.Part); !sameRatios(known, f.Ratios) {
		c.refuse(name, ratioText(f.Ratios), "the ratios that this release gives "+f.Part+" elsewhere: "+ratioText(known))
	}
}

func (c *checker) ratio(name string, ratio vehicle.Decimal) {
	if ratio.Sign() <= 0 || ratio.Cmp(vehicle.Decimal{Coefficient: 20}) > 0 {
		c.refuse(name, ratio.String(), "a ratio above 0, at most 20, as in 2.996")
	}
}

// counting wants tyre, drive and dial that belong together: none impossible,
// and together an odometer that is believed. A tyre whose circumference nobody
// knows is let pass; the distance ledger asks for it.
func (c *checker) counting(path string, tyre drivetrain.Tyre, drive drivetrain.Drive, dial vehicle.Dial) {
	c.number(path+"tyre.size", tyre.Size)
	c.number(path+"tyre.pattern", tyre.Pattern)
	before := len(c.wrong)
	if m := tyre.Measured; m != 0 && (m < drivetrain.LeastCircumference || m > drivetrain.MostCircumference) {
		c.refuse(path+"tyre.circumference_mm", strconv.Itoa(m), "1500 to 4000 mm, as measured over some turns of the wheel; 0 to look it up")
	}
	for _, f := range drive.Validate() {
		if f.Name != "axle_ratio" {
			f.Name = "speedometer_drive." + f.Name
		}
		c.refuse(path+f.Name, f.Got, f.Want)
	}
	for _, f := range dial.Validate() {
		c.refuse(path+"dial."+f.Name, f.Got, f.Want)
	}
	circumference, err := drivetrain.RollingCircumference(tyre)
	if len(c.wrong) > before || err != nil {
		return
	}
	if _, err := drivetrain.OdometerFactor(circumference, drive, dial); err != nil {
		c.refuse(path+"speedometer_drive", "", err.Error())
	}
}
