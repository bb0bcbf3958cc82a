package modbus

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// table is one of the two tables of registers a device has.
type table bool

const (
	holding table = false // function 3
	input   table = true  // function 4
)

func (t table) String() string {
	if t == input {
		return "input"
	}
	return "holding"
}

// register is where a figure lies: a table and the address in it, from 0 as the
// frame has it.
type register struct {
	table   table
	address uint16
}

// String writes the register with both its numbers, since data sheets differ
// in which they print.
func (r register) String() string {
	first := 40001
	if r.table == input {
		first = 30001
	}
	if int(r.address) > 9998 {
		first = first/10000*100000 + 1
	}
	return fmt.Sprintf("%s register %d (%d)", r.table, r.address, first+int(r.address))
}

// parseRegister reads "input 0" and "holding 12", which count from 0, and
// 30001, 40013, 300001, 400013, which count from 1 and have the table in their
// first digit. Source of the second form: the Modbus application protocol
// V1.1b3, 4.4, has the tables and that their numbers begin with 1; the leading
// digit is common practice, no source.
func parseRegister(text string) (register, error) {
	text = strings.ToLower(strings.TrimSpace(text))
	word, rest, named := strings.Cut(text, " ")
	if !named {
		word, rest, named = strings.Cut(text, ":")
	}
	if named {
		n, err := strconv.ParseUint(strings.TrimSpace(rest), 0, 16)
		if err != nil {
			return register{}, fmt.Errorf("%q is no address from 0 to 65535", rest)
		}
		switch word {
		case "input":
			return register{input, uint16(n)}, nil
		case "holding":
			return register{holding, uint16(n)}, nil
		}
		return register{}, fmt.Errorf("%q is neither input nor holding", word)
	}
	n, err := strconv.ParseUint(text, 10, 32)
	if err != nil {
		return register{}, fmt.Errorf("%q is no register", text)
	}
	for _, form := range []struct{ first, most uint64 }{{30001, 9999}, {40001, 9999}, {300001, 65536}, {400001, 65536}} {
		if n >= form.first && n < form.first+form.most {
			return register{table: table(form.first/100000 == 3 || form.first/10000 == 3), address: uint16(n - form.first)}, nil
		}
	}
	return register{}, fmt.Errorf("%s does not say in which table", text)
}

// layout is how a figure is written in registers.
type layout struct {
	form     string // u16, i16, u32, i32, f32, f64
	lowWord  bool   // the low word comes first
	lowByte  bool   // within a register the low byte comes first
	factor   float64
	constant float64
}

// forms lists how a figure may be written.
var forms = []string{"u16", "i16", "u32", "i32", "f32", "f64"}

// words returns how many registers a figure takes.
func (l layout) words() uint16 {
	switch l.form {
	case "u32", "i32", "f32":
		return 2
	case "f64":
		return 4
	}
	return 1
}

// step returns the smallest step of the figure; 0 where its form has none of
// its own.
func (l layout) step() float64 {
	if l.form[0] == 'f' {
		return 0
	}
	return math.Abs(l.factor)
}

// figure returns what the registers say: raw·factor + constant. The registers
// stay as they are; there are words() of them. It may be NaN or infinite, as a
// float can say so itself.
func (l layout) figure(registers []uint16) float64 {
	var bits uint64
	for i := range registers {
		w := registers[i]
		if l.lowWord {
			w = registers[len(registers)-1-i]
		}
		if l.lowByte {
			w = w<<8 | w>>8
		}
		bits = bits<<16 | uint64(w)
	}
	var raw float64
	switch l.form {
	case "u16", "u32":
		raw = float64(bits)
	case "i16":
		raw = float64(int16(bits))
	case "i32":
		raw = float64(int32(bits))
	case "f32":
		raw = float64(math.Float32frombits(uint32(bits)))
	case "f64":
		raw = math.Float64frombits(bits)
	}
	return raw*l.factor + l.constant
}
