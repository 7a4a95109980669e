package sitetest

import (
	"errors"
	"io"
	"net"
	"net/http"
	"strings"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/testdata/aldermoor"
)

// reader is whoever opens a document that lies by itself.
const reader who = "reader"

// paperPages are documents that are pages too: the handbooks of two vehicles
// that are unlike each other.
var paperPages = []sheet{
	{as: reader, path: "/handbook/" + aldermoor.TourSerial},
	{as: reader, path: "/handbook/AM0102E"},
}

// layPapers shows documents at an address of their own.
func (s *site) layPapers() error {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /handbook/{serial}", func(w http.ResponseWriter, r *http.Request) {
		text, err := s.handbook(r.PathValue("serial"), "text/html", "")
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Write(text) //nolint:errcheck // the reader is gone
	})
	mux.HandleFunc("GET /favicon.ico", func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusNoContent) })
	server := &http.Server{Handler: mux}
	s.papers = "http://" + l.Addr().String()
	go server.Serve(l) //nolint:errcheck // it ends with an error when closed
	ends := s.close
	s.close = func() error { return errors.Join(server.Close(), ends()) }
	return nil
}

// handbook gives what the handbook of a vehicle would be today.
func (s *site) handbook(serial, kind, paper string) ([]byte, error) {
	stream, err := s.Handbooks.DownloadHandbook(s.ctx, &handbookv1.DownloadHandbookRequest{
		Name: "vehicles/" + serial + "/handbookIssues/preview", MediaType: kind, Paper: paper,
	})
	if err != nil {
		return nil, err
	}
	var text strings.Builder
	for {
		part, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return []byte(text.String()), nil
		}
		if err != nil {
			return nil, err
		}
		text.Write(part.GetData())
	}
}
