package sitetest

import (
	"errors"
	"io"
	"os"
	"path/filepath"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/testdata/aldermoor"
)

// paper is something printed.
type paper struct {
	name string
	pdf  []byte
}

// printed is all that goes onto paper.
func (s *site) printed() (all []paper, err error) {
	for _, serial := range []string{aldermoor.TourSerial, "AM0102E"} {
		for _, size := range []string{"A5", "A4", "Letter"} {
			pdf, err := s.handbook(serial, size)
			if err != nil {
				return nil, err
			}
			all = append(all, paper{"handbook." + serial + "." + size, pdf})
		}
	}
	for _, size := range []string{"A4", "Letter"} {
		pdf, err := s.jobSheet(size)
		if err != nil {
			return nil, err
		}
		all = append(all, paper{"job-sheet." + size, pdf})
	}
	letters, err := os.ReadFile(filepath.Join(s.dir, "demo", "letters.pdf"))
	if err != nil {
		return nil, err
	}
	return append(all, paper{"letters", letters}), nil
}

// jobSheet is the sheet that the stories made.
func (s *site) jobSheet(size string) ([]byte, error) {
	stream, err := s.JobSheets.DownloadJobSheet(s.ctx, &jobsheetv1.DownloadJobSheetRequest{Name: tourVehicle + "/jobSheets/" + s.found["sheet"], Paper: size})
	if err != nil {
		return nil, err
	}
	var pdf []byte
	for {
		part, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return pdf, nil
		}
		if err != nil {
			return nil, err
		}
		pdf = append(pdf, part.GetData()...)
	}
}

// handbook gives what the handbook of a vehicle would be today, on paper.
func (s *site) handbook(serial, size string) ([]byte, error) {
	stream, err := s.Handbooks.DownloadHandbook(s.ctx, &handbookv1.DownloadHandbookRequest{
		Name: "vehicles/" + serial + "/handbookIssues/preview", MediaType: "application/pdf", Paper: size,
	})
	if err != nil {
		return nil, err
	}
	var pdf []byte
	for {
		part, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return pdf, nil
		}
		if err != nil {
			return nil, err
		}
		pdf = append(pdf, part.GetData()...)
	}
}
