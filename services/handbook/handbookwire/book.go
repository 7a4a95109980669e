package handbookwire

import (
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/vehicle/vehiclewire"
)

// Book reads a version of a book. Its content is checked by handbook.Compile.
func Book(p *handbookv1.Book) (*handbook.Book, error) {
	id, version, err := BookID("name", p.GetName())
	if err != nil {
		return nil, err
	}
	day, err := vehiclewire.Date(p.GetEffectiveDate())
	if err != nil {
		return nil, fault.InvalidField("effective_date", p.GetEffectiveDate().String(), "a day of the calendar")
	}
	b := &handbook.Book{
		ID: id, Version: version, Title: p.GetTitle(), Language: p.GetLanguage(), Effective: day, Releases: p.GetReleases(),
		Sample: p.GetSample(), SignedBy: p.GetSignedBy(), Created: vehiclewire.Moment(p.GetCreateTime()),
	}
	for _, c := range p.GetChapters() {
		chapter := handbook.Chapter{Title: c.GetTitle()}
		for _, s := range c.GetSections() {
			section := handbook.Section{ID: s.GetSectionId(), Title: s.GetTitle(), AppliesWhen: s.GetAppliesWhen(), Index: s.GetIndexTerms()}
			for _, one := range s.GetPassages() {
				section.Passages = append(section.Passages, passage(one))
			}
			chapter.Sections = append(chapter.Sections, section)
		}
		b.Chapters = append(b.Chapters, chapter)
	}
	return b, nil
}

func passage(p *handbookv1.Passage) handbook.Passage {
	out := handbook.Passage{AppliesWhen: p.GetAppliesWhen()}
	switch p.GetPassage().(type) {
	case *handbookv1.Passage_Text:
		out.Text = p.GetText()
	case *handbookv1.Passage_Steps:
		out.Steps = []handbook.Step{}
		for _, s := range p.GetSteps().GetSteps() {
			out.Steps = append(out.Steps, handbook.Step{Text: s.GetText(), Warning: warning(s.GetWarning()), AppliesWhen: s.GetAppliesWhen()})
		}
	case *handbookv1.Passage_Points:
		out.Points = []handbook.Point{}
		for _, s := range p.GetPoints().GetPoints() {
			out.Points = append(out.Points, handbook.Point{Text: s.GetText(), AppliesWhen: s.GetAppliesWhen()})
		}
	case *handbookv1.Passage_Warning:
		out.Warning = warning(p.GetWarning())
	case *handbookv1.Passage_Values:
		v := p.GetValues()
		out.Values = &handbook.ValuesAsked{Kind: handbook.ValuesKind(v.GetKind()), Caption: v.GetCaption(), Of: v.GetOf()}
	case *handbookv1.Passage_Picture:
		v := p.GetPicture()
		out.Picture = &handbook.PictureAsked{Kind: handbook.PictureKind(v.GetKind()), Caption: v.GetCaption()}
	case *handbookv1.Passage_Lines:
		out.Lines = append([]string{}, p.GetLines().GetLabels()...)
	}
	return out
}

func warning(p *handbookv1.Warning) *handbook.Warning {
	if p == nil {
		return nil
	}
	return &handbook.Warning{Word: p.GetWord(), Text: p.GetText()}
}

// BookProto writes a version of a book.
func BookProto(b *handbook.Book) *handbookv1.Book {
	p := &handbookv1.Book{
		Name: b.Name(), Title: b.Title, Language: b.Language, EffectiveDate: vehiclewire.DateProto(b.Effective), Releases: b.Releases,
		Sample: b.Sample, SignedBy: b.SignedBy, CreateTime: vehiclewire.MomentProto(b.Created),
	}
	for _, c := range b.Chapters {
		chapter := &handbookv1.Chapter{Title: c.Title}
		for _, s := range c.Sections {
			section := &handbookv1.Section{SectionId: s.ID, Title: s.Title, AppliesWhen: s.AppliesWhen, IndexTerms: s.Index}
			for i := range s.Passages {
				section.Passages = append(section.Passages, passageProto(&s.Passages[i]))
			}
			chapter.Sections = append(chapter.Sections, section)
		}
		p.Chapters = append(p.Chapters, chapter)
	}
	return p
}

func passageProto(p *handbook.Passage) *handbookv1.Passage {
	out := &handbookv1.Passage{AppliesWhen: p.AppliesWhen}
	switch {
	case p.Text != "":
		out.Passage = &handbookv1.Passage_Text{Text: p.Text}
	case p.Steps != nil:
		steps := &handbookv1.Steps{}
		for _, s := range p.Steps {
			steps.Steps = append(steps.Steps, &handbookv1.Step{Text: s.Text, Warning: warningProto(s.Warning), AppliesWhen: s.AppliesWhen})
		}
		out.Passage = &handbookv1.Passage_Steps{Steps: steps}
	case p.Points != nil:
		points := &handbookv1.Points{}
		for _, s := range p.Points {
			points.Points = append(points.Points, &handbookv1.Point{Text: s.Text, AppliesWhen: s.AppliesWhen})
		}
		out.Passage = &handbookv1.Passage_Points{Points: points}
	case p.Warning != nil:
		out.Passage = &handbookv1.Passage_Warning{Warning: warningProto(p.Warning)}
	case p.Values != nil:
		out.Passage = &handbookv1.Passage_Values{Values: &handbookv1.Values{Kind: handbookv1.ValuesKind(p.Values.Kind), Caption: p.Values.Caption, Of: p.Values.Of}}
	case p.Picture != nil:
		out.Passage = &handbookv1.Passage_Picture{Picture: &handbookv1.Picture{Kind: handbookv1.PictureKind(p.Picture.Kind), Caption: p.Picture.Caption}}
	case p.Lines != nil:
		out.Passage = &handbookv1.Passage_Lines{Lines: &handbookv1.Lines{Labels: p.Lines}}
	}
	return out
}

func warningProto(w *handbook.Warning) *handbookv1.Warning {
	if w == nil {
		return nil
	}
	return &handbookv1.Warning{Word: w.Word, Text: w.Text}
}
