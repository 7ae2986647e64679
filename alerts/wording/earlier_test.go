package wording

import (
	"strings"
	"testing"
	"time"

	"heaterd/alerts/alarm"
)

// Whoever is told next reads who was told before and did not answer, and in a
// short message where there is room.
func TestSaysWhoWasToldBefore(t *testing.T) {
	ann := Earlier{Name: "Ann", At: since.Add(2 * time.Minute), Answers: true}
	ben := Earlier{Name: "Ben", At: since.Add(13 * time.Hour), Answers: true}
	office := Earlier{Name: "Site office", At: since.Add(time.Minute)}
	cy := Earlier{Name: "Cy\r\nBcc: x", Answers: true}
	const one = "Ann was told at 06:02 GMT and has not answered."
	for _, c := range []struct {
		before      []Earlier
		text, short string
	}{
		{[]Earlier{ann}, "- " + one + "\n", " Ann told 06:02 GMT, no answer."},
		{[]Earlier{office, ann}, "- " + one + " Site office was told at 06:01 GMT.\n", " Ann told 06:02 GMT, no answer."},
		{[]Earlier{ann, ben}, "- Ann was told at 06:02 GMT, Ben at 12 Jan 19:00 GMT; nobody has answered.\n", " Ann told 06:02 GMT, no answer."},
		{[]Earlier{cy}, "- No message got through to Cy Bcc: x.\n", " Cy Bcc: x not reached."},
		{[]Earlier{cy, ann}, "- " + one + " No message got through to Cy Bcc: x.\n", " Ann told 06:02 GMT, no answer. Cy Bcc: x not reached."},
		{[]Earlier{{Reader: true, Name: "Ben", At: ann.At, Answers: true}, ann}, "- You were told of this at 06:02 GMT; nobody has acknowledged it since.\n- " + one + "\n", " You were told 06:02 GMT, no answer."},
		{[]Earlier{office}, "- Site office was told at 06:01 GMT.\n", ""},
	} {
		f := facts(t, alarm.SpaceCold)
		bare := english.Short(f)
		f.Earlier = c.before
		if _, text := Full(f); !strings.Contains(text, c.text) || !strings.Contains(english.HTML(f), strings.TrimPrefix(strings.Split(c.text, "\n")[0], "- ")) {
			t.Errorf("%s\ndoes not say %s", text, c.text)
		}
		if short := english.Short(f); short != bare+c.short {
			t.Errorf("%q, want %q", short, bare+c.short)
		}
	}
	f := facts(t, alarm.COCeiling)
	bare := english.Short(f)
	f.Earlier = []Earlier{ann}
	if english.Short(f) != bare {
		t.Errorf("%q gives up something for who was told", english.Short(f))
	}
	_, text := Full(f)
	inOrder(t, text, "4. Then the heater", one)
}
