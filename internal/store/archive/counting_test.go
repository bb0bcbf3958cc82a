package archive

import (
	"context"
	"errors"
	"io"
	"testing"

	"seatproof/internal/store"
	"seatproof/internal/store/mem"
)

// counting counts what comes to a store, and may have a full disk.
type counting struct {
	store.Store
	n    int
	full bool
}

func (c *counting) AddBlob(ctx context.Context, name, mediaType string, r io.Reader) (store.Blob, error) {
	if c.n++; c.full && c.n > 3 {
		return store.Blob{}, store.ErrFull
	}
	return c.Store.AddBlob(ctx, name, mediaType, r)
}

func TestFullMeanwhile(t *testing.T) {
	ctx := t.Context()
	from := mem.New()
	file := exported(t, ctx, from, filled(t, ctx, from))
	to := mem.New()
	if _, err := imported(ctx, &counting{Store: to, full: true}, file, Options{}); !errors.Is(err, store.ErrFull) {
		t.Errorf("%v, want %v", err, store.ErrFull)
	}
	if n := len(changes(t, ctx, to)); n != 0 {
		t.Errorf("%d changes in the store", n)
	}
}
