package trace

import (
	"strings"
	"unicode/utf8"
)

const (
	samplesName   = "samples" // column of sample counts in our own files
	meansComment  = "each row is the mean of so many samples"
	handComment   = "hand readings"
	mostComments  = 64
	longestRemark = 400 // bytes of a comment that are kept
)

// comments gathers what the opening comment lines say: "# rig: small rig" or
// "# rig small rig", in any case, the first of each kind. Gauge, state and seat
// are words that a remark may begin with, so they need the colon (or =).
type comments struct {
	head               Header
	hand, means        bool
	division, reaction string
}

func (c *comments) take(text string) {
	if len(text) > longestRemark {
		cut := longestRemark
		for cut > 0 && !utf8.RuneStart(text[cut]) {
			cut--
		}
		text = strings.TrimSpace(text[:cut])
	}
	l := strings.ToLower(text)
	switch {
	case text == "":
		return
	case strings.HasPrefix(l, handComment):
		c.hand = true
		return
	case l == meansComment:
		c.means = true
		return
	}
	key, rest, marked := l, "", false
	if i := strings.IndexAny(text, " \t:="); i >= 0 {
		key, rest = strings.ToLower(text[:i]), strings.TrimSpace(text[i:])
		if rest != "" && (rest[0] == ':' || rest[0] == '=') {
			rest, marked = strings.TrimSpace(rest[1:]), true
		}
	}
	var into *string
	switch key {
	case "rig":
		into = &c.head.Rig
	case "port":
		into = &c.head.Port
	case "held":
		into = &c.head.Held
	case "started":
		into = &c.head.Started
	case "gauge", "state", "seat":
		if marked {
			into = map[string]*string{"gauge": &c.head.Gauge, "state": &c.head.State, "seat": &c.head.Seat}[key]
		}
	case "division":
		into = &c.division
	case "reaction":
		into = &c.reaction
	}
	switch {
	case into != nil && *into == "":
		*into = rest
	case len(c.head.Others) < mostComments:
		c.head.Others = append(c.head.Others, text)
	}
}

// header returns the header of a file of samples, in which a division or a
// reaction time is a remark like any other.
func (c *comments) header() Header {
	h := c.head
	for _, r := range [][2]string{{"division", c.division}, {"reaction", c.reaction}} {
		if r[1] != "" {
			h.Others = append(h.Others, r[0]+": "+r[1])
		}
	}
	return h
}
