package buildwire

import (
	"fmt"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// Packed is what another service keeps of a vehicle that it follows: the
// record and its changes as bytes, a tenth of their size when read, without
// what was measured, filled in and noted at the build.
type Packed []byte

// Pack checks that a vehicle's state can be read, and packs it. It takes the
// message apart.
func Pack(m *buildv1.BuildState) (vehicle.Serial, Packed, error) {
	b := m.GetBuild()
	b.Measurements, b.Fluids, b.RoadTest, b.KeyNumbers = nil, nil, nil, nil
	b.FrameNumber, b.FinishNote, b.Plate = "", "", ""
	record, err := Record(b)
	if err != nil {
		return "", nil, fmt.Errorf("read %s: %w", b.GetName(), err)
	}
	if _, err := Changes(m.GetChanges()); err != nil {
		return "", nil, fmt.Errorf("read the changes of %s: %w", b.GetName(), err)
	}
	state, err := proto.Marshal(m)
	if err != nil {
		return "", nil, fmt.Errorf("keep %s: %w", b.GetName(), err)
	}
	return record.Serial, state, nil
}

// Read gives the record and all its changes.
func (p Packed) Read() (build.Record, []build.Change, error) {
	var m buildv1.BuildState
	if err := proto.Unmarshal(p, &m); err != nil {
		return build.Record{}, nil, fmt.Errorf("read a build record: %w", err)
	}
	record, err := Record(m.GetBuild())
	if err != nil {
		return build.Record{}, nil, err
	}
	changes, err := Changes(m.GetChanges())
	return record, changes, err
}
