package desk

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"

	"halfshaft/services/wording"
)

func releasePath(name string) string { return "/works/releases/" + url.PathEscape(bare(name)) }

func (v *visit) showReleases() {
	r, err := v.d.Builds.ListReleases(v.as(), &buildv1.ListReleasesRequest{PageSize: mostRows, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Releases", Heads: []string{"Release", "Built from", "Programme", "Positions"},
		Empty: "No release is on record. It comes in with an import: a file for each release."}
	var names []string
	for _, x := range r.GetReleases() {
		names = append(names, bare(x.GetName()))
		t.Rows = append(t.Rows, []cell{{Text: bare(x.GetName()), Path: releasePath(x.GetName()), Sub: x.GetTitle()},
			{Text: civil(x.GetEffectiveDate()), Tight: true}, {Text: bare(x.GetProgramme())}, {Text: strconv.Itoa(len(x.GetFitments()))}})
	}
	blocks := []block{{Text: []string{"Each release is one frozen version of the standard. A vehicle keeps the release that it was built to; what was changed since stands on its own page."},
		Table: t, Links: more("/works/releases?page=", url.QueryEscape(r.GetNextPageToken()))}}
	if n := len(names); n > 1 {
		blocks = append(blocks, block{Heading: "Compare two releases", Form: compareForm("/works/compare-releases", "release", names, names[n-2], names[n-1])})
	}
	v.worksShow("Releases", blocks...)
}

func (v *visit) showRelease() {
	x, err := v.d.Builds.GetRelease(v.as(), &buildv1.GetReleaseRequest{Name: "releases/" + v.r.PathValue("release")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "What stands where", Heads: []string{"Position", "Part", "How many"}, Empty: "Nothing is laid down."}
	for _, f := range x.GetFitments() {
		t.Rows = append(t.Rows, []cell{{Text: wording.UpperFirst(place(f.GetPosition())), Sub: fitmentText(f)}, partCell(f.GetPart()), {Text: strconv.Itoa(max(1, int(f.GetQuantity())))}})
	}
	options := &table{Caption: "Options", Heads: []string{"Option", "What it is", "Changes"}, Empty: "It has no options."}
	for _, o := range x.GetOptions() {
		options.Rows = append(options.Rows, []cell{{Text: o.GetOptionId()}, {Text: o.GetTitle(), Sub: optionTies(o)}, {Text: optionText(o)}})
	}
	facts := append([]fact{{Label: "Built from", Value: civil(x.GetEffectiveDate())}}, releaseFacts(x)...)
	v.worksShow(bare(x.GetName())+": "+x.GetTitle(), block{Facts: said(facts...), Links: []link{{Label: "All releases", Path: "/works/releases"}}},
		block{Heading: "What stands where", Table: t}, block{Heading: "Options", Table: options})
}

// fitmentText says in which assembly something is, and the note.
func fitmentText(f *buildv1.Fitment) string {
	if f.GetWithin() == "" {
		return f.GetNote()
	}
	return strings.TrimSpace("In the " + place(f.GetWithin()) + ". " + f.GetNote())
}

// releaseFacts are what a release lays down besides its positions.
func releaseFacts(x *buildv1.Release) []fact {
	d := x.GetDriveline()
	var synchronised []string
	for _, g := range d.GetSynchronisedGears() {
		synchronised = append(synchronised, strconv.Itoa(int(g)))
	}
	return []fact{
		{Label: "Programme", Value: bare(x.GetProgramme())}, {Label: "Gearbox ratios", Value: strings.Join(d.GetGears(), ", ")},
		{Label: "Gears with synchromesh", Value: strings.Join(synchronised, ", ")},
		{Label: "Transfer case", Value: orNone(d.GetTransferHigh(), "high ") + yes(d.GetTransferLow() != "", ", low "+d.GetTransferLow())},
		{Label: "Axle ratio", Value: d.GetAxleRatio()}, {Label: "Tyre", Value: tyreText(d.GetTyre())},
		{Label: "Speedometer drive", Value: driveText(d.GetSpeedometerDrive())}, {Label: "Notes", Value: x.GetNotes()},
		{Label: "Drive line signed", Value: yes(d.GetSample(), "no: a sample, to be signed by the works' engineer")},
	}
}

func orNone(text, before string) string {
	if text == "" {
		return ""
	}
	return before + text
}

func tyreText(t *vehiclev1.Tyre) string {
	return strings.TrimSpace(t.GetSize() + " " + t.GetPattern())
}

func driveText(d *vehiclev1.SpeedometerDrive) string {
	if d.GetDriverTeeth() == 0 {
		return ""
	}
	return strconv.Itoa(int(d.GetDriverTeeth())) + " to " + strconv.Itoa(int(d.GetDrivenTeeth())) + " teeth"
}

// optionText says what an option puts where.
func optionText(o *buildv1.Option) string {
	var out []string
	for _, f := range o.GetFitments() {
		out = append(out, place(f.GetPosition())+": "+f.GetPart())
	}
	if len(o.GetRemoves()) > 0 {
		out = append(out, "leaves empty: "+place(strings.Join(o.GetRemoves(), ", ")))
	}
	return strings.Join(out, "; ")
}

func optionTies(o *buildv1.Option) string {
	var out []string
	if len(o.GetRequires()) > 0 {
		out = append(out, "needs "+strings.Join(o.GetRequires(), ", "))
	}
	if len(o.GetExcludes()) > 0 {
		out = append(out, "not with "+strings.Join(o.GetExcludes(), ", "))
	}
	return strings.Join(out, "; ")
}

// describedRelease gives a release as things to compare: its drive line, its
// positions, its options.
func describedRelease(x *buildv1.Release) []described {
	out := []described{{"", "The release itself", said(releaseFacts(x)...)}}
	for _, f := range x.GetFitments() {
		out = append(out, described{"position " + f.GetPosition(), wording.UpperFirst(place(f.GetPosition())), said(
			fact{Label: "Part", Value: f.GetPart()}, fact{Label: "How many", Value: strconv.Itoa(max(1, int(f.GetQuantity())))},
			fact{Label: "Is", Value: strings.Join(f.GetTraits(), ", ")}, fact{Label: "In", Value: place(f.GetWithin())}, fact{Label: "Note", Value: f.GetNote()})})
	}
	for _, o := range x.GetOptions() {
		out = append(out, described{"option " + o.GetOptionId(), "Option " + o.GetOptionId(), said(
			fact{Label: "What it is", Value: o.GetTitle()}, fact{Label: "Changes", Value: optionText(o)}, fact{Label: "Goes with", Value: optionTies(o)})})
	}
	return out
}

// comparedReleases holds two releases against each other.
func (v *visit) comparedReleases() {
	q := v.r.URL.Query()
	var releases [2]*buildv1.Release
	for n, id := range []string{q.Get("from"), q.Get("to")} {
		x, err := v.d.Builds.GetRelease(v.as(), &buildv1.GetReleaseRequest{Name: "releases/" + bare(id)})
		if err != nil {
			v.refuse(err)
			return
		}
		releases[n] = x
	}
	earlier, later := releases[0], releases[1]
	all := differences(describedRelease(earlier), describedRelease(later))
	shown, further := v.differing(all, bare(earlier.GetName()), bare(later.GetName()))
	v.worksPage(http.StatusOK, "What differs between two releases", block{
		Text: []string{bare(earlier.GetName()) + ", built from " + civil(earlier.GetEffectiveDate()) + ", against " + bare(later.GetName()) + ", built from " +
			civil(later.GetEffectiveDate()) + ": " + wording.Count(len(all), "difference") + "."},
		Table: shown, Links: append(further, link{Label: "All releases", Path: "/works/releases"}),
	})
}
