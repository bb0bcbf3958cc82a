package unit

import (
	"fmt"
	"strings"
)

// MissingUnitError says that a figure came without a unit where none is
// understood ("62").
type MissingUnitError struct {
	Text string    // as given
	Dim  Dimension // what was asked for
}

func (e *MissingUnitError) Error() string {
	return fmt.Sprintf("parse %q: %s needs a unit, such as %q",
		e.Text, e.Dim.withArticle(), supplied(e.Text, dimensions[e.Dim].everyday))
}

// supplied returns the text with a unit put where it is missing.
func supplied(text, unit string) string {
	text = strings.TrimSpace(text)
	if left, right, ok := strings.Cut(text, "±"); ok && strings.HasSuffix(text, "%") {
		return strings.TrimSpace(left) + " " + unit + " ± " + strings.TrimSpace(right)
	}
	if text != "" && isDigit(text[len(text)-1]) {
		return text + " " + unit
	}
	return "1 " + unit
}

// WrongUnitError says that a unit is known but measures something else
// ("62 kPa" for a volume).
type WrongUnitError struct {
	Text  string    // as given
	Unit  string    // the unit found, canonical
	Is    Dimension // what that unit measures
	Needs Dimension // what was asked for
}

func (e *WrongUnitError) Error() string {
	return fmt.Sprintf("parse %q: %s is a unit of %s, but %s is needed: give it in %s for instance",
		e.Text, e.Unit, e.Is, e.Needs.withArticle(), dimensions[e.Needs].everyday)
}

// UnknownPrefixError says that a known unit has something in front of it that
// is no prefix it takes ("5 qkPa", "5 kpsi").
type UnknownPrefixError struct {
	Text   string // as given
	Prefix string // "qk"
	Unit   string // the unit behind it, canonical: "Pa"
	None   bool   // the unit takes no prefix at all
}

func (e *UnknownPrefixError) Error() string {
	if e.None {
		return fmt.Sprintf("parse %q: %s takes no prefix, but has %q in front: write %s alone",
			e.Text, e.Unit, e.Prefix, e.Unit)
	}
	return fmt.Sprintf("parse %q: unknown prefix %q in front of %s: the prefixes are %s",
		e.Text, e.Prefix, e.Unit, prefixList())
}

// UnknownUnitError says that a unit is not known, or that its spelling fits
// several that differ only in case.
type UnknownUnitError struct {
	Text    string    // as given
	Unit    string    // the unit as written
	Nearest string    // the nearest known unit; empty if none is near
	Fits    []string  // canonical units the spelling could mean, if several
	Note    string    // what is known of this spelling, if it is a well-known trap
	Dim     Dimension // what was asked for; 0 if nothing in particular
}

func (e *UnknownUnitError) Error() string {
	head := fmt.Sprintf("parse %q: ", e.Text)
	switch {
	case len(e.Fits) > 0:
		return head + fmt.Sprintf("unit %q could mean %s: write one of them exactly", e.Unit, strings.Join(e.Fits, " or "))
	case e.Note != "":
		return head + fmt.Sprintf("unknown unit %q: %s", e.Unit, e.Note)
	case e.Nearest != "":
		return head + fmt.Sprintf("unknown unit %q: did you mean %s?", e.Unit, e.Nearest)
	case e.Dim != 0:
		return head + fmt.Sprintf("unknown unit %q: give the %s in %s for instance", e.Unit, e.Dim, dimensions[e.Dim].everyday)
	default:
		return head + fmt.Sprintf("unknown unit %q", e.Unit)
	}
}

// FigureError says that a text holds no usable figure: none at all, one that
// could mean two things, not finite, a negative spread, and so on.
type FigureError struct {
	Text   string // as given
	Reason string // what is wrong and what to do
}

func (e *FigureError) Error() string { return fmt.Sprintf("parse %q: %s", e.Text, e.Reason) }
