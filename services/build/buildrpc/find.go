package buildrpc

import (
	"context"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
)

// FindBuilds implements the BuildService. Nothing is ever opened by a guess: a
// serial is found exactly or not at all, and what is near to it is named to
// staff alone, for them to ask about.
func (s *Service) FindBuilds(ctx context.Context, r *buildv1.FindBuildsRequest) (*buildv1.FindBuildsResponse, error) {
	size, err := page.Size(r.GetPageSize(), 20, 100)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	fragment := build.Fold(r.GetQuery())
	if n := len([]rune(fragment)); n < build.MinFragment || fault.Longer(r.GetQuery(), 200) {
		return nil, fault.InvalidField("query", r.GetQuery(), "a serial, or at least 3 letters or digits of another number")
	}
	found, exact, err := s.find(r.GetQuery(), fragment)
	if err != nil {
		return nil, err
	}
	answer := &buildv1.FindBuildsResponse{}
	answer.Matches, answer.NextPageToken = matches(r, found, after, size)
	if !exact {
		s.explain(ctx, answer, r.GetQuery(), len(found) > 0)
	}
	return answer, nil
}

// find gives what a query finds: the serial first, when it is one exactly.
func (s *Service) find(query, fragment string) (found []buildstore.Found, exact bool, err error) {
	serial, err := vehicle.ParseSerial(query)
	if err == nil && s.store.Exists(serial) {
		found = append(found, buildstore.Found{Serial: serial, Term: build.Term{Kind: build.TermSerial, Text: string(serial)}})
	}
	exact = err == nil
	others, err := s.store.Find(fragment)
	if err != nil {
		return nil, false, err
	}
	for _, o := range others {
		if len(found) == 0 || o.Serial != found[0].Serial || found[0].Term.Kind != build.TermSerial {
			found = append(found, o)
		}
	}
	return found, exact, nil
}

// matches gives one page of what was found.
func matches(r *buildv1.FindBuildsRequest, found []buildstore.Found, after string, size int) (few []*buildv1.BuildMatch, next string) {
	from := 0
	if after != "" {
		for from < len(found) && string(found[from].Serial) != after {
			from++
		}
		from++
	}
	for i := from; i < len(found); i++ {
		if len(few) == size {
			return few, page.Token(r, string(found[i-1].Serial))
		}
		f := found[i]
		few = append(few, &buildv1.BuildMatch{
			Build: build.Name(f.Serial), MatchedBy: string(f.Term.Kind), MatchedText: f.Term.Text, Former: f.Term.Former,
		})
	}
	return few, ""
}

// explain says why a query that reads like a serial is none. A query that found
// a vehicle by another number was hardly meant as a serial; then only staff are
// told, and only when there is a serial that it may have been.
func (s *Service) explain(ctx context.Context, answer *buildv1.FindBuildsResponse, query string, found bool) {
	staff := access.CallerFrom(ctx).Staff()
	var near []string
	if staff {
		for _, slip := range vehicle.Slips(query) {
			if s.store.Exists(slip) {
				near = append(near, build.Name(slip))
			}
		}
	}
	if found && len(near) == 0 {
		return
	}
	_, err := vehicle.ParseSerial(query)
	if len(near) == 0 && !(build.WrongCheck(err) && strings.ContainsAny(query, "0123456789")) {
		return // a word, not taken for a serial
	}
	answer.SerialRefusal, _ = build.Refusal(query)
	answer.NearSerials = near
}
