package web

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
)

// counting is a keeper that counts the traces opened, and may fail to keep
// readings.
type counting struct {
	*Memory
	opened atomic.Int64
	broken error
}

func (c *counting) OpenBlob(ctx context.Context, id string) (Blob, io.ReadCloser, error) {
	c.opened.Add(1)
	return c.Memory.OpenBlob(ctx, id)
}

func (c *counting) KeepResult(ctx context.Context, testID, version string, body []byte) error {
	if c.broken != nil {
		return c.broken
	}
	return c.Memory.KeepResult(ctx, testID, version, body)
}

func (c *counting) Results(ctx context.Context, jobID, version string) (map[string][]byte, error) {
	if c.broken != nil {
		return nil, c.broken
	}
	return c.Memory.Results(ctx, jobID, version)
}

// After a start the card says the same and no trace is read; after a change of
// what the estimator was told, or of the estimator, the traces are read again.
func TestReadingsAreKept(t *testing.T) {
	k := &counting{Memory: NewMemory()}
	b := bedOn(t, Config{Keeper: k, Version: "1"})
	id, port := bookIn(t, b)
	second := at(t, call(t, b, "GET", "heads/"+id, nil, 200), "head.ports.1.id").(string)
	first := call(t, b, "POST", "tests", counted(id, port, "21½", "21"), 201)
	call(t, b, "POST", "tests", counted(id, second, "21", "5"), 201)
	before := call(t, b, "GET", "heads/"+id+"/card", nil, 200)
	sheet := call(t, b, "GET", "heads/"+id+"/ports/"+second, nil, 200)

	k.opened.Store(0)
	b = bedOn(t, Config{Keeper: k, Version: "1"})
	if after := call(t, b, "GET", "heads/"+id+"/card", nil, 200); !reflect.DeepEqual(before, after) {
		t.Errorf("the card after a start differs:\n%v\nwas\n%v", after, before)
	}
	if after := call(t, b, "GET", "heads/"+id+"/ports/"+second, nil, 200); !reflect.DeepEqual(sheet, after) {
		t.Errorf("the port sheet after a start differs:\n%v\nwas\n%v", after, sheet)
	}
	if n := k.opened.Load(); n != 0 {
		t.Errorf("%d traces were opened after a start, want none", n)
	}

	b = bedOn(t, Config{Keeper: k, Version: "2"})
	call(t, b, "GET", "heads/"+id+"/card", nil, 200)
	if n := k.opened.Load(); n != 2 {
		t.Errorf("another estimator opened %d traces, want both", n)
	}

	firstID := at(t, first, "test.id").(string)
	old, err := k.Memory.Results(t.Context(), id, "2"+retainedForm)
	if err != nil || len(old) != 2 {
		t.Fatalf("%d readings are kept, error %v, want 2", len(old), err)
	}
	how := at(t, first, "test.conditions").(obj)
	how["held"] = "thumb"
	call(t, b, "PUT", "tests/"+firstID, obj{"rev": at(t, first, "test.rev"), "conditions": how}, 200)
	want := call(t, b, "GET", "heads/"+id+"/card", nil, 200)
	k.opened.Store(0)
	if err := k.Memory.KeepResult(t.Context(), firstID, "2"+retainedForm, old[firstID]); err != nil {
		t.Fatal(err)
	}
	b = bedOn(t, Config{Keeper: k, Version: "2"}) // has readings of both, one of them told otherwise
	if got := call(t, b, "GET", "heads/"+id+"/card", nil, 200); !reflect.DeepEqual(got, want) {
		t.Errorf("an old reading was taken for one of other conditions:\n%v\nwant\n%v", got, want)
	}
	if n := k.opened.Load(); n != 1 {
		t.Errorf("after one change %d traces were opened, want 1", n)
	}

	// What the first version left is gone, and the figures say who made them.
	if left, err := k.Memory.Results(t.Context(), id, "1"+retainedForm); err != nil || len(left) != 0 {
		t.Errorf("the first version left %d readings, error %v", len(left), err)
	}
	if now, err := k.Memory.Results(t.Context(), id, "2"+retainedForm); err != nil || len(now) != 2 {
		t.Errorf("the second version keeps %d readings, error %v, want 2", len(now), err)
	}
	if got := at(t, call(t, b, "GET", "tests/"+firstID, nil, 200), "test.reading.version"); got != "2" {
		t.Errorf("the figure says version %v, want 2", got)
	}
}

// locked is a buffer that several may write to.
type locked struct {
	mu sync.Mutex
	bytes.Buffer
}

func (l *locked) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.Buffer.Write(p)
}

func (l *locked) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.Buffer.String()
}

// A reading that can't be kept is an answer all the same; the log says so.
func TestReadingsNotKept(t *testing.T) {
	var said locked
	k := &counting{Memory: NewMemory(), broken: errors.New("the shelf is full")}
	b := bedOn(t, Config{Keeper: k, Version: "1", Log: slog.New(slog.NewTextHandler(&said, nil))})
	id, port := bookIn(t, b)
	r := call(t, b, "POST", "tests", counted(id, port, "21½", "21½"), 201)
	if got := at(t, r, "card.rows.0.word"); got != "holds" {
		t.Errorf("the port is %q, want holds", got)
	}
	if !strings.Contains(said.String(), "the shelf is full") {
		t.Errorf("the log does not say why: %q", said.String())
	}
}
