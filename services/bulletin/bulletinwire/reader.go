// Package bulletinwire converts bulletins, their sets and the follow-ups of
// campaigns between services/bulletin and their protos.
package bulletinwire

import (
	"fmt"
	"strconv"
	"strings"

	"halfshaft/services/bulletin"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// reader reads messages and collects what is wrong with them.
type reader struct{ vehiclewire.Reader }

// serials reads serials; a wrong one is named by its place.
func (r *reader) serials(path string, texts []string) []vehicle.Serial {
	var out []vehicle.Serial
	for i, text := range texts {
		serial, err := vehicle.ParseSerial(text)
		r.Refuse(fmt.Sprintf("%s[%d]", path, i), err)
		out = append(out, serial)
	}
	return out
}

func texts(serials []vehicle.Serial) []string {
	var out []string
	for _, s := range serials {
		out = append(out, string(s))
	}
	return out
}

// The forms of names.
const (
	BulletinPattern = "bulletins/{bulletin}"
	VersionPattern  = BulletinPattern + "/versions/{version}"
	FollowUpPattern = "vehicles/{serial}/followUps/{follow_up}"
	ReportPattern   = BulletinPattern + "/campaignReport"
)

// maxVersion is the highest number that a key has room for.
const maxVersion = 9999

// VersionName reads identifier and number out of a version's name; 0 for "-",
// the version that holds. field is the request's, for the refusal.
func VersionName(field, name string) (id string, version int, err error) {
	ids, err := resname.Match(field, VersionPattern, name)
	if err != nil {
		return "", 0, err
	}
	if ids[1] == "-" {
		return ids[0], 0, nil
	}
	version, err = strconv.Atoi(ids[1])
	if err != nil || version < 1 || version > maxVersion || strconv.Itoa(version) != ids[1] {
		return "", 0, fault.InvalidField(field, name, "bulletins/BULLETIN/versions/NUMBER, the number from 1")
	}
	return ids[0], version, nil
}

// BulletinID reads the name of a bulletin, without a version.
func BulletinID(field, name string) (string, error) {
	ids, err := resname.Match(field, BulletinPattern, name)
	if err != nil {
		return "", err
	}
	return ids[0], nil
}

// optionalID reads the name of a bulletin where there may be none.
func (r *reader) optionalID(path, name string) string {
	if name == "" {
		return ""
	}
	id, err := BulletinID(path, name)
	r.Refuse(path, err)
	return id
}

func optionalName(id string) string {
	if id == "" {
		return ""
	}
	return bulletin.Name(id)
}

const organisations = "organisations/"

func organisationID(name string) string { return strings.TrimPrefix(name, organisations) }

func organisationName(id string) string {
	if id == "" {
		return ""
	}
	return organisations + id
}

// ReportID reads the name of a campaign's report.
func ReportID(field, name string) (string, error) {
	ids, err := resname.Match(field, ReportPattern, name)
	if err != nil {
		return "", err
	}
	return ids[0], nil
}
