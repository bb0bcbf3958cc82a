package check

import (
	"encoding/json"
	"fmt"

	"seatproof/unit"
)

// inSI is a dimension in JSON: the SI unit that its figures are in, "" for none, so
// that what is kept can be read without this program.
type inSI unit.Dimension

func (d inSI) MarshalText() ([]byte, error) {
	if d == 0 {
		return nil, nil
	}
	return []byte(unit.Dimension(d).SIUnit()), nil
}

func (d *inSI) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = 0
		return nil
	}
	u, ok := unit.UnitOf(string(b))
	if !ok {
		return fmt.Errorf("read check: %q is no unit", b)
	}
	*d = inSI(u.Dim)
	return nil
}

type plainResult Result

type resultJSON struct {
	plainResult
	Unit inSI `json:"unit"`
}

// MarshalJSON writes a result, figures in SI units, each with its unit.
func (r Result) MarshalJSON() ([]byte, error) {
	return json.Marshal(resultJSON{plainResult(r), inSI(r.Dim)})
}

// UnmarshalJSON reads what [Result.MarshalJSON] writes.
func (r *Result) UnmarshalJSON(b []byte) error {
	var j resultJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	*r = Result(j.plainResult)
	r.Dim = unit.Dimension(j.Unit)
	return nil
}

type plainFigure Figure

type figureJSON struct {
	plainFigure
	Unit inSI `json:"unit"`
}

// MarshalJSON writes a figure with its SI unit.
func (f Figure) MarshalJSON() ([]byte, error) {
	return json.Marshal(figureJSON{plainFigure(f), inSI(f.Dim)})
}

// UnmarshalJSON reads what [Figure.MarshalJSON] writes.
func (f *Figure) UnmarshalJSON(b []byte) error {
	var j figureJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	*f = Figure(j.plainFigure)
	f.Dim = unit.Dimension(j.Unit)
	return nil
}
