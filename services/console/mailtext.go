package console

import (
	"bytes"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/mail"
	"strings"
)

// mailText gives of a mail what people read: from whom, to whom, the subject
// and the part in plain text.
func mailText(raw []byte) (string, error) {
	message, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return "", fmt.Errorf("read the mail: %w", err)
	}
	var text strings.Builder
	for _, name := range []string{"From", "To", "Subject"} {
		value, err := new(mime.WordDecoder).DecodeHeader(message.Header.Get(name))
		if err != nil {
			return "", fmt.Errorf("read the mail's head: %w", err)
		}
		fmt.Fprintf(&text, "%s: %s\n", name, value)
	}
	_, params, err := mime.ParseMediaType(message.Header.Get("Content-Type"))
	if err != nil {
		return "", fmt.Errorf("read the mail's head: %w", err)
	}
	for parts := multipart.NewReader(message.Body, params["boundary"]); ; {
		part, err := parts.NextPart() // it undoes quoted-printable
		if err != nil {
			return "", fmt.Errorf("look for the mail's text: %w", err)
		}
		if kind, _, _ := mime.ParseMediaType(part.Header.Get("Content-Type")); kind != "text/plain" {
			continue
		}
		body, err := io.ReadAll(part)
		return text.String() + "\n" + strings.TrimRight(strings.ReplaceAll(string(body), "\r\n", "\n"), "\n"), err
	}
}
