package enquiryrpc

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// away is every other service, none of which gives an answer.
type away struct {
	buildv1.BuildServiceClient
	schedulev1.ScheduleServiceClient
	ownerv1.OwnerServiceClient
	warrantyv1.WarrantyServiceClient
	bulletinv1.BulletinServiceClient
	accessv1.AccessServiceClient
	build error
}

func (a away) GetBuild(context.Context, *buildv1.GetBuildRequest, ...grpc.CallOption) (*buildv1.Build, error) {
	return nil, a.build
}
func (a away) GetConfiguration(context.Context, *buildv1.GetConfigurationRequest, ...grpc.CallOption) (*buildv1.Configuration, error) {
	return nil, a.build
}
func (away) GetStanding(context.Context, *ownerv1.GetStandingRequest, ...grpc.CallOption) (*ownerv1.Standing, error) {
	return nil, status.Error(codes.Unavailable, "no")
}
func (away) ListTies(context.Context, *ownerv1.ListTiesRequest, ...grpc.CallOption) (*ownerv1.ListTiesResponse, error) {
	return nil, status.Error(codes.PermissionDenied, "no")
}
func (away) ListCovers(context.Context, *warrantyv1.ListCoversRequest, ...grpc.CallOption) (*warrantyv1.ListCoversResponse, error) {
	return nil, status.Error(codes.Unimplemented, "no")
}
func (away) ListClaims(context.Context, *warrantyv1.ListClaimsRequest, ...grpc.CallOption) (*warrantyv1.ListClaimsResponse, error) {
	return nil, status.Error(codes.Unimplemented, "no")
}
func (away) ListVehicleBulletins(context.Context, *bulletinv1.ListVehicleBulletinsRequest, ...grpc.CallOption) (*bulletinv1.ListVehicleBulletinsResponse, error) {
	return nil, status.Error(codes.DeadlineExceeded, "no")
}
func (away) GetSchedule(context.Context, *schedulev1.GetScheduleRequest, ...grpc.CallOption) (*schedulev1.Schedule, error) {
	return nil, status.Error(codes.FailedPrecondition, "the release has no programme")
}
func (away) ListServiceEntries(context.Context, *schedulev1.ListServiceEntriesRequest, ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	return nil, status.Error(codes.Unavailable, "no")
}
func (away) ListReadings(context.Context, *schedulev1.ListReadingsRequest, ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	return nil, status.Error(codes.Unavailable, "no")
}
func (away) ListUseFacts(context.Context, *schedulev1.ListUseFactsRequest, ...grpc.CallOption) (*schedulev1.ListUseFactsResponse, error) {
	return nil, status.Error(codes.Unavailable, "no")
}
func (away) ListMeasuredSeries(context.Context, *schedulev1.ListMeasuredSeriesRequest, ...grpc.CallOption) (*schedulev1.ListMeasuredSeriesResponse, error) {
	return nil, status.Error(codes.Unavailable, "no")
}

func (away) ListOrganisations(context.Context, *accessv1.ListOrganisationsRequest, ...grpc.CallOption) (*accessv1.ListOrganisationsResponse, error) {
	return nil, status.Error(codes.Unavailable, "no")
}
func (away) ListAssignments(context.Context, *accessv1.ListAssignmentsRequest, ...grpc.CallOption) (*accessv1.ListAssignmentsResponse, error) {
	return nil, status.Error(codes.Unavailable, "no")
}

// among makes the service among others.
func among(t *testing.T, others away) *Service {
	t.Helper()
	s, err := New(t.Context(), Config{
		Store: kv.NewStore(etcdtest.Client(t)), Group: &projection.Group{}, Clock: func() time.Time { return time.Date(2026, 5, 18, 12, 0, 0, 0, time.UTC) },
		Builds: others, Schedules: others, Owners: others, Warranties: others, Bulletins: others, Access: others,
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// A service that gives no answer leaves its sentence and hides nothing else.
func TestAServiceThatIsAwayLeavesAGapAndHidesNothing(t *testing.T) {
	s := among(t, away{build: status.Error(codes.Unavailable, "no")})
	ctx := access.NewContext(t.Context(), access.Caller{Role: access.Support, Bearer: "front desk"})
	d, err := s.GetDossier(ctx, &enquiryv1.GetDossierRequest{Name: "vehicles/AM0147P/dossier"})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"The build record could not be read: the service gives no answer.",
		"Whether it is under warranty could not be read: the service does not run, or is broken.",
		"Who is tied to it is not for your role.",
		"What is due could not be read: the release has no programme.",
		"Its bulletins could not be read: the service gives no answer.",
		"Who can do the work could not be read: the service gives no answer.",
		"What was measured could not be read: the service gives no answer.",
	} {
		if !slices.Contains(d.GetGaps(), want) {
			t.Errorf("no gap says %q:\n%s", want, strings.Join(d.GetGaps(), "\n"))
		}
	}
	if len(d.GetGaps()) != 13 || d.GetIdentity().GetSerial() != "AM0147P" || len(d.GetQuestions()) != 0 {
		t.Errorf("%d gaps; nothing is asked of which nothing is known: %v", len(d.GetGaps()), d.GetQuestions())
	}
}

// A vehicle that is not there has no page, in the words of the build service.
func TestAVehicleThatIsNotThereHasNoPage(t *testing.T) {
	s := among(t, away{build: status.Error(codes.NotFound, "There is no vehicle AM0147P here.")})
	_, err := s.GetDossier(t.Context(), &enquiryv1.GetDossierRequest{Name: "vehicles/AM0147P/dossier"})
	if err == nil || !strings.Contains(err.Error(), "There is no vehicle AM0147P here.") {
		t.Errorf("got %v", err)
	}
}
