package build

import "halfshaft/services/vehicle"

// Name gives the resource name of a build record, "builds/AM0147P".
func Name(serial vehicle.Serial) string { return "builds/" + string(serial) }

// DriveLineName gives the resource name of a vehicle's drive line,
// "builds/AM0147P/driveLine".
func DriveLineName(serial vehicle.Serial) string { return Name(serial) + "/driveLine" }

// ReleaseName gives the resource name of a release, "releases/R3".
func ReleaseName(id string) string { return "releases/" + id }

// ProgrammeName gives the resource name of a service programme,
// "programmes/packhorse"; empty for none.
func ProgrammeName(id string) string {
	if id == "" {
		return ""
	}
	return "programmes/" + id
}

// Name gives the resource name of the change, "builds/AM0147P/changes/0192f0".
func (c Change) Name() string { return Name(c.Serial) + "/changes/" + c.ID }
