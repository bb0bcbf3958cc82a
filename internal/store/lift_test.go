package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"seatproof/head"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
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

// TestEarlierTests: a test as format 1 kept it, with and without columns, is read,
// and handed over as of this program's format. One of a later format is refused.
func TestEarlierTests(t *testing.T) {
	const body = `{"v":1,"id":"t","job":"j","port":"p1","at":5,"by":"LM","source":"file","rig":"r","check":"","conditions":{"held":"own-spring","wet_with":"nothing","guide":"","turned":false,"placed":true,"plugged":"yes","state":"","masked":null},"trace":"ab","note":"n"`
	for end, want := range map[string]string{`}`: "", `,"columns":"s, kPa vacuum"}`: "s, kPa vacuum"} {
		e, err := Read[head.Test](Record{Kind: KindTest, ID: "t", JobID: "j", Body: []byte(body + end)})
		if err != nil || e.Is.Columns != want || e.Is.TraceID != "ab" || e.Is.Conditions.Held != rig.HeldOwnSpring || e.Is.Note != "n" {
			t.Errorf("%s: %+v, error %v", end, e.Is, err)
		}
		lifted, err := Lifted(KindTest, []byte(body+end))
		if err != nil || !strings.HasPrefix(string(lifted), fmt.Sprintf(`{"v":%d,`, Format(KindTest))) {
			t.Errorf("%s: lifted to %s, error %v", end, lifted, err)
		}
		var again head.Test
		if err := Unmarshal(KindTest, lifted, &again); err != nil || !reflect.DeepEqual(again, e.Is) {
			t.Errorf("%s: lifted it holds %+v, and held %+v; error %v", end, again, e.Is, err)
		}
		if twice, err := Lifted(KindTest, lifted); err != nil || string(twice) != string(lifted) {
			t.Errorf("%s: lifted twice it is %s, error %v", end, twice, err)
		}
	}
	if Format(KindTest) < 2 {
		t.Errorf("a test has columns and is still of format %d: an older program would drop them", Format(KindTest))
	}
	if _, err := Lifted(KindTest, []byte(`{"v":99}`)); !errors.Is(err, ErrVersion) {
		t.Errorf("a later format: %v, want %v", err, ErrVersion)
	}
	for kind, body := range map[Kind]string{KindTest: `{"id":"t"}`, "settings": `{"sound":""}`} {
		if got, err := Lifted(kind, []byte(body)); err != nil || string(got) != body {
			t.Errorf("%s %s became %s, error %v", kind, body, got, err)
		}
	}
}

// TestTestsBeside: what other gauges showed during a test, and when a person said that
// the pump was shut off, was kept in format 2 for a while, and is read from there; it is
// kept in a later one, so that no older program drops it.
func TestTestsBeside(t *testing.T) {
	const body = `{"v":2,"id":"t","job":"j","port":"p1","trace":"ab","beside":[{"gauge":"second gauge","trace":"cd"}],"shut_off":12.5}`
	e, err := Read[head.Test](Record{Kind: KindTest, ID: "t", JobID: "j", Body: []byte(body)})
	if err != nil || !reflect.DeepEqual(e.Is.Beside, []head.Beside{{Gauge: "second gauge", TraceID: "cd"}}) || e.Is.ShutOff == nil || *e.Is.ShutOff != 12.5 {
		t.Errorf("%+v, error %v", e.Is, err)
	}
	now, err := Marshal(KindTest, e.Is)
	if err != nil || !strings.HasPrefix(string(now), `{"v":3,`) {
		t.Fatalf("%s, error %v", now, err)
	}
	var again head.Test
	if err := Unmarshal(KindTest, now, &again); err != nil || !reflect.DeepEqual(again, e.Is) {
		t.Errorf("kept as %+v, was %+v; error %v", again, e.Is, err)
	}
}

// TestEarlierChecks: a check as format 1 kept it, words and no more, is read, and one
// with what came of it is of a later format, so that no older program drops that.
func TestEarlierChecks(t *testing.T) {
	const body = `{"v":1,"id":"c","rig":"r","at":5,"by":"LM","kind":"blanked reading","words":"78 kPa, five pulls","trace":"ab"}`
	e, err := Read[head.Check](Record{Kind: KindCheck, ID: "c", Body: []byte(body)})
	if err != nil || e.Is.Words != "78 kPa, five pulls" || e.Is.TraceID != "ab" || e.Is.Result != nil || len(e.Is.Validate()) > 0 {
		t.Errorf("%+v, error %v, %v", e.Is, err, e.Is.Validate())
	}
	c := e.Is
	c.Result = json.RawMessage(`{"kind":"blanked reading","value":{"value":78000,"spread":400}}`)
	now, err := Marshal(KindCheck, c)
	if err != nil || !strings.HasPrefix(string(now), `{"v":2,`) {
		t.Fatalf("%s, error %v", now, err)
	}
	var again head.Check
	if err := Unmarshal(KindCheck, now, &again); err != nil || !reflect.DeepEqual(again, c) {
		t.Errorf("kept as %+v, was %+v; error %v", again, c, err)
	}
}

// TestEarlierJobs: a head as format 1 kept it, with a limit typed in or none, is read,
// and goes by that; one with a share of cranking pressure is of a later format, so
// that no older program drops it.
func TestEarlierJobs(t *testing.T) {
	const body = `{"v":1,"id":"j","number":"QSH-0412","limit":{"flow":{"value":5e-7,"spread":0},"gap":null,"strict":true}}`
	e, err := Read[head.Job](Record{Kind: KindJob, ID: "j", Body: []byte(body)})
	if l := e.Is.Limit; err != nil || l.Flow.Value != 5e-7 || !l.Flow.Known || !l.Strict || l.NoCost || l.Cost.Known || l.Basis != "" {
		t.Errorf("%+v, error %v", e.Is.Limit, err)
	}
	j := e.Is
	j.Limit.Cost, j.Limit.NoCost, j.Limit.Basis = unit.Exactly(0.01), true, limit.ByMaker
	now, err := Marshal(KindJob, j)
	if err != nil || !strings.HasPrefix(string(now), `{"v":2,`) {
		t.Fatalf("%s, error %v", now, err)
	}
	var again head.Job
	if err := Unmarshal(KindJob, now, &again); err != nil || !reflect.DeepEqual(again, j) {
		t.Errorf("kept as %+v, was %+v; error %v", again.Limit, j.Limit, err)
	}
}
