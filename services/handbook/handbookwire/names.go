// Package handbookwire converts between the handbooks' domain and its messages.
package handbookwire

import (
	"fmt"
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
)

// The forms of names.
const (
	BookForm    = "books/{book}/versions/{version}"
	VehicleForm = "vehicles/{serial}"
	PreviewForm = "vehicles/{serial}/handbook"
	IssueForm   = "vehicles/{serial}/handbookIssues/{issue}"
)

// Latest stands for the last version or issue.
const Latest = 0

// BookID reads the name of a version of a book; "versions/-" is Latest.
func BookID(field, name string) (id string, version int, err error) {
	parts, err := resname.Match(field, BookForm, name)
	if err != nil {
		return "", 0, err
	}
	version, ok := number(parts[1])
	if !ok {
		return "", 0, fault.InvalidField(field, name, `books/BOOK/versions/VERSION, VERSION a number from 1 to 9999, or "-" for the latest`)
	}
	return parts[0], version, nil
}

// IssueID reads the name of an issue; "handbookIssues/-" is Latest.
func IssueID(field, name string) (vehicle.Serial, int, error) {
	serial, text, err := issue(field, name)
	if err != nil {
		return "", 0, err
	}
	n, ok := number(text)
	if !ok {
		return "", 0, fault.InvalidField(field, name, `vehicles/SERIAL/handbookIssues/NUMBER, or "-" for the last`)
	}
	return serial, n, nil
}

// preview stands in a name for what an issue would be now.
const preview = "preview"

// DownloadID reads the name of an issue, or of what it would be now.
func DownloadID(field, name string) (serial vehicle.Serial, n int, now bool, err error) {
	serial, text, err := issue(field, name)
	if err != nil || text == preview {
		return serial, 0, true, err
	}
	n, ok := number(text)
	if !ok {
		return "", 0, false, fault.InvalidField(field, name, `vehicles/SERIAL/handbookIssues/NUMBER, "-" for the last, or "preview" for what it would be now`)
	}
	return serial, n, false, nil
}

func issue(field, name string) (vehicle.Serial, string, error) {
	serial, parts, err := resname.Serial(field, IssueForm, name)
	if err != nil {
		return "", "", err
	}
	return serial, parts[len(parts)-1], nil
}

// number reads a number from 1, written in one way only.
func number(text string) (int, bool) {
	if text == "-" {
		return Latest, true
	}
	n, err := strconv.Atoi(text)
	return n, err == nil && n >= 1 && n <= 9999 && strconv.Itoa(n) == text
}

// BookName is the name of a version of a book.
func BookName(id string, version int) string { return fmt.Sprintf("books/%s/versions/%d", id, version) }

// IssueName is the name of an issue.
func IssueName(serial vehicle.Serial, n int) string {
	return fmt.Sprintf("vehicles/%s/handbookIssues/%d", serial, n)
}

// PreviewName is the name of what a vehicle's handbook would be.
func PreviewName(serial vehicle.Serial) string { return fmt.Sprintf("vehicles/%s/handbook", serial) }
