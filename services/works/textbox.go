package works

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"

	"halfshaft/services/reminder/remindertext"
)

// demoTextSecret signs what goes to the demo's own gateway, on this machine.
const demoTextSecret = "whsec_YW4gaW52ZW50ZWQgc2VjcmV0IGZvciB0aGUgZGVtbyE="

// textBox is the demo's gateway for text messages: a real web server on
// loopback that keeps what it takes as text files.
type textBox struct {
	dir, address string
	server       *http.Server
	receiver     *remindertext.Receiver

	mu    sync.Mutex
	taken int
}

func openTextBox(dir string) (*textBox, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make the box for text messages: %w", err)
	}
	receiver, err := remindertext.NewReceiver(demoTextSecret)
	if err != nil {
		return nil, err
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("open the demo's gateway: %w", err)
	}
	b := &textBox{dir: dir, address: "http://" + listener.Addr().String() + "/send", receiver: receiver}
	b.server = &http.Server{Handler: b, ReadTimeout: 10 * time.Second, WriteTimeout: 10 * time.Second}
	go b.server.Serve(listener) //nolint:errcheck // it ends with an error when closed
	return b, nil
}

func (b *textBox) close() error { return b.server.Close() }

func (b *textBox) count() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.taken
}

// ServeHTTP takes one message, of whose signature only the age is not looked
// at: the demo's day is not today.
func (b *textBox) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, 64<<10))
	var m struct {
		Timestamp time.Time
		Data      struct{ Reference, To, Text string }
	}
	if err = errors.Join(err, json.Unmarshal(body, &m)); err == nil {
		err = b.receiver.Verify(r.Header, body, m.Timestamp)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	segments, encoding := remindertext.Segments(m.Data.Text)
	text := fmt.Sprintf("To: %s\nReference: %s\nSegments: %d, %s\n\n%s\n", m.Data.To, m.Data.Reference, segments, encoding, m.Data.Text)
	if err := os.WriteFile(filepath.Join(b.dir, fmt.Sprintf("%03d.txt", b.taken+1)), []byte(text), 0o600); err != nil {
		http.Error(w, "it could not be kept", http.StatusInternalServerError)
		return
	}
	b.taken++
}
