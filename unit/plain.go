package unit

import "strings"

// Plain prints a figure as a field shows it to be edited: all its digits, without
// those that conversion made. 27 mm is "27 mm", a third of an inch "8.4667 mm".
func Plain(m Measured, dim Dimension, unit string) string {
	s := Format(m, dim, unit, 0)
	digits := 0
	for _, r := range s {
		if r >= '0' && r <= '9' {
			digits++
		}
	}
	if digits > 8 && m.Spread == 0 {
		return trimZeros(Format(m, dim, unit, 5))
	}
	if m.Spread != 0 && digits > 12 {
		return Format(m, dim, unit, 2)
	}
	return s
}

// trimZeros takes the zeros off the end of the figure that a text begins with.
func trimZeros(s string) string {
	end := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("-0123456789.", r) })
	if end < 0 {
		end = len(s)
	}
	figure := s[:end]
	if strings.Contains(figure, ".") {
		figure = strings.TrimSuffix(strings.TrimRight(figure, "0"), ".")
	}
	return figure + s[end:]
}
