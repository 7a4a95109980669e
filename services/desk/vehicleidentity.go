package desk

import (
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"

	"halfshaft/services/wording"
)

// numbered are the positions whose component is known by its number, which people
// read off it when they ring.
var numbered = []string{"engine", "gearbox", "transfer-case"}

// identityBlock is what the vehicle is: what stands on it for people to read, and
// what the works built. Of what cannot be asked at the moment it says nothing.
func (v *visit) identityBlock(id *enquiryv1.DossierIdentity) block {
	c, err := v.d.Builds.GetConfiguration(v.as(), &buildv1.GetConfigurationRequest{Name: "builds/" + v.r.PathValue("serial")})
	if err != nil {
		c = nil
	}
	facts := []fact{{Label: "Plate", Value: c.GetPlate(), Mono: true}, {Label: "Frame number", Value: id.GetFrameNumber(), Mono: true}}
	facts = append(facts, numbersOf(c)...)
	facts = append(facts, fact{Label: "Release", Value: releaseText(id)}, fact{Label: "Options", Value: optionsText(c, id)},
		fact{Label: "Wheelbase", Value: wording.UpperFirst(id.GetWheelbase())}, fact{Label: "Market", Value: wording.Country(id.GetMarket())},
		fact{Label: "Tyres", Value: tyreWords(id.GetTyre())}, fact{Label: "Axle ratio", Value: ratioText(id.GetAxleRatio())}, fact{Label: "Odometer", Value: dialText(c)})
	if id.GetDeliveryDate() != nil {
		facts = append(facts, fact{Label: "Delivered", Value: civil(id.GetDeliveryDate())})
	}
	b := block{Heading: "What it is"}
	for _, f := range facts {
		if f.Value != "" {
			b.Facts = append(b.Facts, f)
		}
	}
	if v.engineer() {
		b.Links = []link{{Label: "Record another odometer", Path: v.at("/odometer")}}
	}
	if v.staff() {
		b.Links = append(b.Links, link{Label: "How it is used", Path: v.at("/use")})
	}
	return b
}

// numbersOf are the numbers of the components that have one.
func numbersOf(c *buildv1.Configuration) (facts []fact) {
	for _, position := range numbered {
		for _, f := range c.GetFitted() {
			if f.GetComponent().GetPosition() == position {
				facts = append(facts, fact{Label: wording.UpperFirst(place(position)), Value: f.GetComponent().GetSerial(), Mono: true})
			}
		}
	}
	return facts
}

// releaseText is the release of today, and the one it left the works with where
// that was another.
func releaseText(id *enquiryv1.DossierIdentity) string {
	if was := id.GetBuiltRelease(); was != "" && was != id.GetRelease() {
		return id.GetRelease() + ", built to " + was
	}
	return id.GetRelease()
}

// optionsText is its options as the release calls them, or by their short names
// where that cannot be asked at the moment.
func optionsText(c *buildv1.Configuration, id *enquiryv1.DossierIdentity) string {
	var out []string
	for _, title := range c.GetOptionTitles() {
		out = append(out, wording.LowerFirst(title))
	}
	if c == nil {
		for _, o := range id.GetOptions() {
			out = append(out, place(o))
		}
	}
	return wording.UpperFirst(strings.Join(out, "; "))
}

// dialText says what its odometer is like, so that a caller can be helped to read
// it.
func dialText(c *buildv1.Configuration) string {
	d := c.GetDial()
	if d.GetDigits() == 0 {
		return ""
	}
	text := wording.Count(int(d.GetDigits()), "digit") + map[bool]string{true: ", kilometres", false: ", miles"}[d.GetUnit() == "km"]
	if d.GetTenths() {
		return text + ", and tenths"
	}
	return text + ", no tenths"
}
