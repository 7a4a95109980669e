package parts

import (
	"fmt"
	"strings"
)

// absent gives the fluids and settings of the catalogue that are not for the
// vehicle, made when a question first needs them.
func (x *wantIndex) absent(r *Ready) []datum {
	if x.others != nil {
		return x.others
	}
	here := map[row]bool{}
	for i := range x.data {
		here[x.data[i].row()] = true
	}
	x.others = []datum{}
	take := func(d datum) {
		if here[d.row()] {
			return
		}
		d.site = r.site(d.position)
		called := d.position
		if text := r.Catalogue.placeNames.called[d.position]; text != "" {
			called = text
		}
		d.at(r.Catalogue, called)
		x.others = append(x.others, d)
	}
	for f := range r.Catalogue.capacities.All() {
		take(fluidDatum(f))
	}
	for s := range r.Catalogue.settings.All() {
		take(settingDatum(s))
	}
	return x.others
}

func (d *datum) row() row {
	if d.fluid != nil {
		return d.fluid
	}
	return d.setting
}

// technicalElsewhere refuses a fluid or a setting that only other vehicles
// have, and says which.
func (q *query) technicalElsewhere(meant []*datum) Answer {
	r := Refusal{Rule: NotOnThisVehicle}
	var sentences []string
	for _, d := range meant {
		what := "The fluid of the " + spoken(d.position)
		if s := d.setting; s != nil {
			what = fmt.Sprintf("The %s of the %s", spoken(s.Characteristic), spoken(s.Position))
			if s.Subject != "" {
				what = fmt.Sprintf("The %s of the %s, at the %s,", spoken(s.Characteristic), s.Subject, spoken(s.Position))
			}
		}
		var sentence string
		if d.site == nil {
			sentence = fmt.Sprintf("%s has no %s.", q.vehicle.Configuration.Serial, spoken(d.position))
			r.BelongsTo = addNew(r.BelongsTo, describe(q.Places.byPosition[d.position]))
		} else {
			c := d.row().conditions()
			_, why := c.judge(d.site.subject)
			sentence = fmt.Sprintf("%s %s.", what, c.unmetWords(why, d.site.subject))
			r.BelongsTo = addNew(r.BelongsTo, []string{fmt.Sprintf("the %s: %s", spoken(d.position), c.words())})
		}
		if sentences = addNew(sentences, []string{sentence}); len(r.Reasons) < len(sentences) {
			r.Reasons = append(r.Reasons, reason("TECHNICAL_ROW_NOT_MET", d.row().record(), sentence, "position", d.position))
		}
	}
	const most = 3
	r.Sentence = strings.Join(sentences[:min(most, len(sentences))], " ")
	return Answer{Question: "fluids and settings " + q.asked.all(), Refusal: &r}
}
