package reminderjob

import (
	"bytes"
	"io"
	"strings"

	"github.com/emersion/go-message"
	"pgregory.net/rapid"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/reminder/reminderstore"
)

// decoded gives a message's header and parts as a reader sees them.
func decoded(t rapid.TB, raw []byte) string {
	head, _, _ := bytes.Cut(raw, []byte("\r\n\r\n"))
	text := strings.ReplaceAll(string(head), "\r\n ", " ")
	entity, err := message.Read(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	for reader := entity.MultipartReader(); ; {
		part, err := reader.NextPart()
		if err == io.EOF {
			return text
		}
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(part.Body)
		if err != nil {
			t.Fatal(err)
		}
		text += "\n" + string(body)
	}
}

// reminderRequest is a request of a person, once.
func reminderRequest() reminderstore.Request {
	return reminderstore.Request{ID: uuid.NewString(), Payload: &reminderv1.RetryNoticeRequest{}}
}
