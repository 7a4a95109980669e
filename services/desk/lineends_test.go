package desk

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// Services refuse the other sign of a line's end as a control character, and
// would count it.
func TestALineThatIsTypedEndsInOneCharacter(t *testing.T) {
	r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(url.Values{"answer.text": {" It weeps.\r\nThat is normal.\r\n"}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	v := &visit{w: httptest.NewRecorder(), r: r}
	if !v.readForm() || v.value("answer.text") != "It weeps.\nThat is normal." {
		t.Errorf("got %q", v.value("answer.text"))
	}
}

// The longest texts of a bulletin come in whatever letters they have.
func TestAFormHoldsTheLongestTextsOfABulletin(t *testing.T) {
	all := url.Values{}
	for _, name := range []string{"fault", "consequence", "meanwhile", "caution"} {
		all.Set(name, strings.Repeat("🚙", 4000))
	}
	r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(all.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	v := &visit{w: httptest.NewRecorder(), r: r}
	if !v.readForm() || len(v.value("fault")) != 16_000 {
		t.Error("the form is refused")
	}
}
