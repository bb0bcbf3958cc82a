package modbus

import (
	"math"
	"testing"
)

func TestParseRegister(t *testing.T) {
	for text, want := range map[string]register{
		"input 0":      {input, 0},
		"Input  0x10":  {input, 16},
		"holding 12":   {holding, 12},
		"holding:12":   {holding, 12},
		"30001":        {input, 0},
		"39999":        {input, 9998},
		"40013":        {holding, 12},
		"300001":       {input, 0},
		"465536":       {holding, 65535},
		" 40001 ":      {holding, 0},
		"holding65535": {},
		"12":           {}, // in which table?
		"40000":        {},
		"input 65536":  {},
		"coil 1":       {},
		"input":        {},
		"-1":           {},
		"":             {},
	} {
		got, err := parseRegister(text)
		if got != want {
			t.Errorf("%q: got %v, %v, want %v", text, got, err, want)
		}
		if bad := want == (register{}) && text != "40001" && text != " 40001 "; bad != (err != nil) {
			t.Errorf("%q: got error %v", text, err)
		}
	}
}

func TestRegisterString(t *testing.T) {
	for want, r := range map[string]register{
		"input register 0 (30001)":       {input, 0},
		"holding register 12 (40013)":    {holding, 12},
		"input register 9999 (310000)":   {input, 9999},
		"holding register 9998 (49999)":  {holding, 9998},
		"input register 65535 (365536)":  {input, 65535},
		"holding register 9999 (410000)": {holding, 9999},
	} {
		if got := r.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
		if text := want[len(want)-6:]; text[0] == '(' {
			if back, err := parseRegister(text[1:6]); err != nil || back != r {
				t.Errorf("%s is read back as %v, %v", want, back, err)
			}
		}
	}
}

// TestFigure checks against bit patterns of IEEE 754: -12.5 is C1480000 in
// single and C029000000000000 in double precision.
func TestFigure(t *testing.T) {
	for _, c := range []struct {
		name string
		l    layout
		in   []uint16
		want float64
	}{
		{"u16", layout{form: "u16"}, []uint16{0xFF85}, 65413},
		{"i16", layout{form: "i16"}, []uint16{0xFF85}, -123},
		{"i16 tenths", layout{form: "i16", factor: 0.1}, []uint16{0xFF85}, -12.3},
		{"i16 swapped bytes", layout{form: "i16", lowByte: true}, []uint16{0x85FF}, -123},
		{"u32", layout{form: "u32"}, []uint16{0x0001, 0x86A0}, 100000},
		{"u32 low word first", layout{form: "u32", lowWord: true}, []uint16{0x86A0, 0x0001}, 100000},
		{"i32", layout{form: "i32"}, []uint16{0xFFFF, 0xFF85}, -123},
		{"i32 least", layout{form: "i32"}, []uint16{0x8000, 0}, math.MinInt32},
		{"f32", layout{form: "f32"}, []uint16{0xC148, 0x0000}, -12.5},
		{"f32 low word first", layout{form: "f32", lowWord: true}, []uint16{0x0000, 0xC148}, -12.5},
		{"f32 low word and byte first", layout{form: "f32", lowWord: true, lowByte: true}, []uint16{0x0000, 0x48C1}, -12.5},
		{"f32 not a number", layout{form: "f32"}, []uint16{0x7FC0, 0}, math.NaN()},
		{"f64", layout{form: "f64"}, []uint16{0xC029, 0, 0, 0}, -12.5},
		{"f64 low word first", layout{form: "f64", lowWord: true}, []uint16{0, 0, 0, 0xC029}, -12.5},
		{"offset", layout{form: "u16", factor: 0.5, constant: -100}, []uint16{40}, -80},
	} {
		if c.l.factor == 0 {
			c.l.factor = 1
		}
		if int(c.l.words()) != len(c.in) {
			t.Errorf("%s: takes %d registers, want %d", c.name, c.l.words(), len(c.in))
		}
		got := c.l.figure(c.in)
		if math.Abs(got-c.want) > 1e-12*math.Abs(c.want) || math.IsNaN(got) != math.IsNaN(c.want) {
			t.Errorf("%s: got %g, want %g from %X", c.name, got, c.want, c.in)
		}
	}
}
