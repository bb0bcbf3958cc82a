package report

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// contrast returns the ratio of WCAG 2.2 between two colours "#RRGGBB":
// (L1 + 0.05)/(L2 + 0.05), L the relative luminance of sRGB.
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	l := func(s string) float64 {
		var c [3]int
		if _, err := fmt.Sscanf(s, "#%02X%02X%02X", &c[0], &c[1], &c[2]); err != nil {
			t.Fatalf("colour %q: %v", s, err)
		}
		var f [3]float64
		for i, x := range c {
			v := float64(x) / 255
			if v <= 0.04045 {
				f[i] = v / 12.92
			} else {
				f[i] = math.Pow((v+0.055)/1.055, 2.4)
			}
		}
		return 0.2126*f[0] + 0.7152*f[1] + 0.0722*f[2]
	}
	x, y := l(a), l(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Words need 4.5 (WCAG 2.2, 1.4.3 AA), lines that carry meaning 3 (1.4.11), on
// paper and on sheet, light and dark; words on a filled accent are sheet.
func TestContrast(t *testing.T) {
	find := func(name token) (string, string) {
		for _, c := range colours {
			if c.name == name {
				return c.light, c.dark
			}
		}
		t.Fatalf("no colour %q", name)
		return "", ""
	}
	for _, c := range []struct {
		front, back token
		least       float64
	}{
		{ink, paper, 4.5}, {ink, sheet, 4.5}, {ink2, paper, 4.5}, {ink2, sheet, 4.5},
		{accent, paper, 4.5}, {accent, sheet, 4.5}, {sheet, accent, 4.5},
		{rule, paper, 3}, {rule, sheet, 3},
	} {
		fl, fd := find(c.front)
		bl, bd := find(c.back)
		if got := contrast(t, fl, bl); got < c.least {
			t.Errorf("light: %s on %s %.2f, want %.1f", c.front, c.back, got, c.least)
		}
		if got := contrast(t, fd, bd); got < c.least {
			t.Errorf("dark: %s on %s %.2f, want %.1f", c.front, c.back, got, c.least)
		}
	}
	// Black on white is 21 by definition.
	if got := contrast(t, "#000000", "#FFFFFF"); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white %.6f, want 21", got)
	}
}

// Each state's swatch is of its own form, not only of its own colour.
func TestSwatchesDiffer(t *testing.T) {
	seen := map[string]State{}
	for _, st := range []State{Holds, Leaks, CantTellYet, NoVerdict, Refused} {
		form := swatch(st, 0, 0, 28)
		form = strings.NewReplacer(" leaks\"", "\"").Replace(form) // the accent's class
		if other, ok := seen[form]; ok {
			t.Errorf("%q and %q are drawn alike", st, other)
		}
		seen[form] = st
	}
}

func TestPx(t *testing.T) {
	for x, want := range map[float64]string{1: "1", 1.5: "1.5", 1.256: "1.26", -0.001: "0", 100: "100", 0: "0"} {
		if got := px(x); got != want {
			t.Errorf("px(%v) = %q, want %q", x, got, want)
		}
	}
}
