package partsrpc

import (
	"context"
	"strconv"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partsstore"
	"halfshaft/services/parts/partswire"
	"halfshaft/services/shims"
	"halfshaft/services/vehicle/vehiclewire"
)

const (
	maxPosition = 80 // characters
	// The worst of problems takes a seventh of a second and more than 100 MB, so
	// that only so many are worked out at once; what is small never waits.
	searchesAtOnce = 2
	smallProblem   = 8 // sizes
)

// slots admits searches.
type slots chan struct{}

// enter waits for a place, or for the caller to give up.
func (s slots) enter(ctx context.Context) error {
	select {
	case s <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s slots) leave() { <-s }

// SelectShims implements the API.
func (s *Service) SelectShims(ctx context.Context, req *partsv1.SelectShimsRequest) (*partsv1.ShimSelection, error) {
	if n := len([]rune(req.GetPosition())); n == 0 || n > maxPosition {
		return nil, fault.InvalidField("position", req.GetPosition(), "a position of the vehicle, as in output-shaft-bearing")
	}
	answer := &partsv1.ShimSelection{Position: req.GetPosition()}
	var setting *parts.ShimSetting
	err := s.about(ctx, req.GetBuild(), req.GetOnDate(), func(r *parts.Ready) (err error) {
		answer.Build, answer.OnDate = build.Name(r.Serial()), vehiclewire.DateProto(r.On())
		setting, err = r.ShimSetting(parts.ShimQuestion{
			Position: req.GetPosition(), Characteristic: req.GetCharacteristic(), Subject: req.GetSubject(),
		})
		if err != nil {
			return err
		}
		answer.Setting = partsstore.SettingProto(setting.Setting)
		answer.Renew = partswire.LinesProto(setting.Renew)
		for i, l := range setting.Renew {
			if part := r.Catalogue.Part(l.Part); part != nil {
				answer.Renew[i].Title, answer.Renew[i].Unit = part.Title, part.Unit
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	p := problem{req: req, setting: setting.Setting}
	result, err := s.solve(ctx, &p)
	if err != nil {
		return nil, err
	}
	write(answer, setting, &p.Problem, &result)
	return answer, nil
}

// solve reads the problem and works it out; everything that is wrong with the
// request is in the refusal.
func (s *Service) solve(ctx context.Context, p *problem) (shims.Result, error) {
	p.read()
	if len(p.Sizes)+len(p.Fitted.Shims) > smallProblem {
		if err := s.searches.enter(ctx); err != nil {
			return shims.Result{}, err
		}
		defer s.searches.leave()
	}
	result, err := shims.Select(p.Problem)
	return result, p.refusal(err)
}

// count is a number of pieces of the API, where 0 counts as 1.
func count(n int32) int {
	if n == 0 {
		return 1
	}
	return int(n)
}

func times(n int, what string) string {
	if n == 1 {
		return what
	}
	return strconv.Itoa(n) + " x " + what
}
