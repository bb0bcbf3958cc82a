package store

import (
	"encoding/json"
	"errors"
	"testing"
)

// TestLifts: a body goes through every lift from its own version on, in order.
func TestLifts(t *testing.T) {
	rename := func(from, to string) lift {
		return func(b map[string]json.RawMessage) error {
			if b[from] == nil {
				return errors.New(from + " is missing")
			}
			b[to] = b[from]
			delete(b, from)
			return nil
		}
	}
	up := []lift{rename("a", "b"), rename("b", "c")}
	for _, body := range []string{`{"v":1,"a":7}`, `{"v":2,"b":7}`, `{"v":3,"c":7}`} {
		var got struct{ A, B, C int }
		if err := unmarshal("k", up, []byte(body), &got); err != nil || got.C != 7 || got.A != 0 || got.B != 0 {
			t.Errorf("%s: got %+v, error %v", body, got, err)
		}
	}
	for body, want := range map[string]error{`{"v":4}`: ErrVersion, `{"v":1,"b":7}`: ErrDamaged} {
		var got struct{}
		if err := unmarshal("k", up, []byte(body), &got); !errors.Is(err, want) {
			t.Errorf("%s: %v, want %v", body, err, want)
		}
	}
}
