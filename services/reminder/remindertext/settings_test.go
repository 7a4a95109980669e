package remindertext

import (
	"strings"
	"testing"
	"time"

	"halfshaft/services/fault"
)

func TestSettingsThatMustNotBeUsedAreRefused(t *testing.T) {
	good := Config{URL: "https://gateway.aldermoor.example/send", Secret: secret, Clock: time.Now}
	if _, err := New(good); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		change func(*Config)
		field  string
	}{
		"no address":                  {func(c *Config) { c.URL = "" }, "text.url"},
		"no encryption":               {func(c *Config) { c.URL = "http://gateway.aldermoor.example/send" }, "text.url"},
		"none though named":           {func(c *Config) { c.URL = "http://gateway.lan/"; c.AllowPrivate = []string{"gateway.lan"} }, "text.url"},
		"none to this machine":        {func(c *Config) { c.URL = "http://127.0.0.1/send" }, "text.url"},
		"none to this machine, range": {func(c *Config) { c.URL = "http://127.0.0.1/"; c.AllowPrivate = []string{"127.0.0.0/8"} }, "text.url"},
		"a file":                      {func(c *Config) { c.URL = "file:///etc/passwd" }, "text.url"},
		"a password in the address":   {func(c *Config) { c.URL = "https://a:b@gateway.aldermoor.example/" }, "text.url"},
		"no secret":                   {func(c *Config) { c.Secret = "" }, "text.secret"},
		"a secret without its prefix": {func(c *Config) { c.Secret = strings.TrimPrefix(secret, "whsec_") }, "text.secret"},
		"a short secret":              {func(c *Config) { c.Secret = "whsec_c2hvcnQ=" }, "text.secret"},
		"a range that is none":        {func(c *Config) { c.AllowPrivate = []string{"10.0.0.0/99"} }, "text.allow_private"},
		"a port with the host":        {func(c *Config) { c.AllowPrivate = []string{"gateway.lan:80"} }, "text.allow_private"},
		"no clock":                    {func(c *Config) { c.Clock = nil }, "text.clock"},
	} {
		config := good
		c.change(&config)
		_, err := New(config)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.field+":") {
			t.Errorf("%s: got %v, want a complaint about %s", name, err, c.field)
		}
		if err != nil && strings.Contains(err.Error(), "a:b@") {
			t.Errorf("%s: %v tells the password", name, err)
		}
	}
	for _, plain := range []Config{
		{URL: "http://127.0.0.1:8080/send", AllowPrivate: []string{"127.0.0.1"}},
		{URL: "http://localhost/send", AllowPrivate: []string{"localhost"}},
		{URL: "http://[::1]/send", AllowPrivate: []string{"::1"}},
	} {
		plain.Secret, plain.Clock = secret, time.Now
		if _, err := New(plain); err != nil {
			t.Errorf("%s: %v", plain.URL, err)
		}
	}
}
