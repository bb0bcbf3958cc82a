package practise

import (
	"fmt"
	"strconv"
	"strings"
)

// Speech is how a sensor writes a reading as text.
type Speech struct {
	Name    string
	Words   string
	Example string

	write func(r Reading) string
}

// Speeches lists the ways there are; all in kPa of vacuum.
func Speeches() []Speech {
	out := []Speech{
		{Name: "plain", Words: "a figure a line", write: func(r Reading) string { return fig(r) }},
		{Name: "named", Words: "name, figure and unit", write: func(r Reading) string { return "vacuum=" + fig(r) + " kPa" }},
		{Name: "timed", Words: "milliseconds and figure", write: func(r Reading) string { return ms(r) + "," + fig(r) }},
		{Name: "csv", Words: "semicolons, a decimal comma, a second figure", write: func(r Reading) string {
			return ms(r) + ";" + strings.Replace(fig(r), ".", ",", 1) + ";20,5"
		}},
		{Name: "json", Words: "one object a line", write: func(r Reading) string {
			return `{"t_ms":` + ms(r) + `,"vacuum_kPa":` + fig(r) + `}`
		}},
		{Name: "signed", Words: "gauge pressure, below zero", write: func(r Reading) string { return "P = " + strconv.FormatFloat(-kPa(r.Vacuum), 'f', 3, 64) + " kPa" }},
	}
	for i := range out {
		out[i].Example = out[i].write(Reading{Clock: 12.34, Vacuum: 76541})
	}
	return out
}

// SpeechNamed returns a way to write, "" the first.
func SpeechNamed(name string) (Speech, error) {
	var names []string
	for _, s := range Speeches() {
		if s.Name == name || name == "" {
			return s, nil
		}
		names = append(names, s.Name)
	}
	return Speech{}, fmt.Errorf("no way of writing is called %q: there are %s", name, strings.Join(names, ", "))
}

// Write writes a reading, without the end of line.
func (s Speech) Write(r Reading) string { return s.write(r) }

func fig(r Reading) string { return strconv.FormatFloat(kPa(r.Vacuum), 'f', 3, 64) }
func ms(r Reading) string  { return strconv.FormatInt(int64(r.Clock*1000+0.5), 10) }
