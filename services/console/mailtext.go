package console

import (
	"bytes"
	"encoding/json"
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

// letterText gives of a letter, which is kept as the blocks that are printed,
// its text.
func letterText(raw []byte) (string, error) {
	var letter struct {
		Date, Serial string
		Blocks       []struct {
			Kind, Mark, Text string
			Rows             []string
			Numbered         bool
		}
	}
	if err := json.Unmarshal(raw, &letter); err != nil {
		return "", fmt.Errorf("read the letter: %w", err)
	}
	s := &sheet{}
	s.line("%s, %s", letter.Date, letter.Serial)
	for _, b := range letter.Blocks {
		s.WriteByte('\n')
		mark := ""
		if b.Mark != "" {
			mark = b.Mark + " "
		}
		s.text(mark, b.Text)
		for _, row := range b.Rows {
			before := "- "
			if b.Numbered || b.Kind == "vehicle" {
				before = ""
			}
			s.text(before, row)
		}
	}
	return s.String(), nil
}
