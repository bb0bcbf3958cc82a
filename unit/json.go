package unit

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
)

// measuredJSON is a known figure in JSON, in SI units.
type measuredJSON struct {
	Value  *float64 `json:"value"`
	Spread float64  `json:"spread"`
}

// MarshalJSON writes a known figure as {"value": 0.072, "spread": 0.0005}, in SI
// units, and null for a figure nobody has given. A figure that is not finite is
// an error, for JSON has no word for it.
func (m Measured) MarshalJSON() ([]byte, error) {
	if !m.Known {
		return []byte("null"), nil
	}
	if !finite(m.Value) || !finite(m.Spread) {
		return nil, fmt.Errorf("write figure %v ± %v: JSON holds finite figures only", m.Value, m.Spread)
	}
	return json.Marshal(measuredJSON{&m.Value, m.Spread})
}

// UnmarshalJSON reads what [Measured.MarshalJSON] writes. A spread that is left
// out is 0. A figure without a value, a negative spread or a field it does not
// know is an error.
func (m *Measured) UnmarshalJSON(b []byte) error {
	if bytes.Equal(bytes.TrimSpace(b), []byte("null")) {
		*m = Measured{}
		return nil
	}
	var j measuredJSON
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&j); err != nil {
		return fmt.Errorf("read figure: %w: write {\"value\": …, \"spread\": …} in SI units, or null", err)
	}
	switch {
	case j.Value == nil:
		return errors.New("read figure: no value: write {\"value\": …, \"spread\": …} in SI units, or null for a figure not known")
	case j.Spread < 0:
		return fmt.Errorf("read figure: spread %v is negative: it is the half-width of a 95 %% interval", j.Spread)
	}
	*m = Measured{*j.Value, j.Spread, true}
	return nil
}
