package desk

import (
	"net/url"
	"testing"
)

func TestWhereASignInGoesOnToIsOneOfOurPages(t *testing.T) {
	for asked, want := range map[string]string{
		"": "/", "/": "/", "/account": "/account", "/audit?actor=ida&page=x": "/audit?actor=ida&page=x",
		"account": "/", "https://ferncombe.example/": "/", "//ferncombe.example/": "/", "/\\ferncombe.example": "/",
		"/a\r\nSet-Cookie: x": "/", "javascript:alert(1)": "/", "/\t/ferncombe.example": "/", "https:/ferncombe.example": "/",
	} {
		if got := nextPage(asked); got != want {
			t.Errorf("%q: got %q, want %q", asked, got, want)
		}
	}
}

// However it is written, a browser that stands at our page stays with us.
func FuzzNextPage(f *testing.F) {
	for _, s := range []string{"/account", "//x", "/\\x", "https://x", "/%2f/x", "/../x", "/;@x"} {
		f.Add(s)
	}
	base, err := url.Parse("https://desk.aldermoor.example/sign-in")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, asked string) {
		to, err := base.Parse(nextPage(asked))
		if err != nil || to.Host != base.Host || to.Scheme != base.Scheme || to.User != nil {
			t.Errorf("%q leads to %v, %v", asked, to, err)
		}
	})
}
