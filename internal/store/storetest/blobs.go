package storetest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"testing/iotest"

	"seatproof/internal/store"
)

// noise returns n bytes that don't compress.
func noise(n int) []byte {
	b := make([]byte, n)
	src := rand.NewChaCha8([32]byte{byte(n)})
	_, _ = src.Read(b)
	return b
}

// table is a megabyte like a logger's file.
var table = sync.OnceValue(func() []byte {
	var b bytes.Buffer
	src := rand.New(rand.NewPCG(1, 2))
	for i := 0; b.Len() < 1e6; i++ {
		fmt.Fprintf(&b, "%.3f,%.2f\n", float64(i)/100, 62-float64(i)/1e4+src.NormFloat64()/20)
	}
	return b.Bytes()
})

// columns returns n bytes like a logger's file.
func columns(n int) []byte {
	return bytes.Repeat(table(), n/len(table())+1)[:n]
}

func readBlob(t testing.TB, s store.Store, id string) (store.Blob, []byte) {
	t.Helper()
	b, r, err := s.OpenBlob(t.Context(), id)
	if err != nil {
		t.Fatalf("open blob %s: %v", id, err)
	}
	data, err := io.ReadAll(r)
	if err := errors.Join(err, r.Close()); err != nil {
		t.Fatalf("read blob %s: %v", id, err)
	}
	return b, data
}

func blobs(t *testing.T, s store.Store) {
	_, _, err := s.OpenBlob(t.Context(), strings.Repeat("0", 64))
	want(t, "open of none", err, store.ErrNotFound)
	_, _, err = s.OpenBlob(t.Context(), "")
	want(t, "open of no identity", err, store.ErrNotFound)
	const piece = 1 << 20 // where a store may cut
	large := 20 << 20
	if testing.Short() {
		large = 4<<20 + 1
	}
	for what, data := range map[string][]byte{
		"nothing": {}, "one byte": {0}, "short": []byte("0,1\r\n\xff\x00"), "less than a piece": noise(piece - 1), "a piece": columns(piece),
		"more than a piece": noise(piece + 1), "two pieces": columns(2 * piece), "zeros": make([]byte, 3*piece), "large columns": columns(large),
		"large noise": noise(large),
	} {
		// A reader that hands out odd lots, as a network does.
		b, err := s.AddBlob(t.Context(), what+"/Öl.csv", "text/csv; header=present", iotest.HalfReader(bytes.NewReader(data)))
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		sum := sha256.Sum256(data)
		if id := hex.EncodeToString(sum[:]); b.ID != id || b.Size != int64(len(data)) || b.Name != what+"/Öl.csv" || b.Type != "text/csv; header=present" {
			t.Errorf("%s: got %+v, want size %d, identity %s", what, b, len(data), id)
		}
		got, back := readBlob(t, s, b.ID)
		if got != b || !bytes.Equal(back, data) {
			t.Errorf("%s: got %+v with %d bytes, want %+v", what, got, len(back), b)
		}
	}
	for what, name := range map[string]string{"too long": strings.Repeat("a", store.MostName+1), "not UTF-8": "\xff"} {
		_, err := s.AddBlob(t.Context(), name, "", strings.NewReader("x"))
		want(t, "a name "+what, err, store.ErrInvalid)
		_, err = s.AddBlob(t.Context(), "", name, strings.NewReader("x"))
		want(t, "a type "+what, err, store.ErrInvalid)
	}
	if changes := seq(t, s); changes != 0 {
		t.Errorf("blobs made %d changes to the records", changes)
	}
}

func sameBytes(t *testing.T, s store.Store) {
	for _, data := range [][]byte{{}, columns(3 << 20)} {
		first, err := s.AddBlob(t.Context(), "first.csv", "text/csv", bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		again, err := s.AddBlob(t.Context(), "again.txt", "text/plain", bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if again != first {
			t.Errorf("%d bytes again: got %+v, want %+v", len(data), again, first)
		}
		if b, back := readBlob(t, s, first.ID); b != first || !bytes.Equal(back, data) {
			t.Errorf("%d bytes twice: got %+v with %d bytes", len(data), b, len(back))
		}
	}
}

// brokenUpload: an upload that breaks off leaves nothing, and can be made again.
func brokenUpload(t *testing.T, s store.Store) {
	data := columns(5 << 20)
	sum := sha256.Sum256(data)
	id := hex.EncodeToString(sum[:])
	broken := errors.New("the network blinked")
	_, err := s.AddBlob(t.Context(), "a.csv", "", io.MultiReader(bytes.NewReader(data), iotest.ErrReader(broken)))
	want(t, "a reader that breaks off", err, broken)
	ctx, cancel := context.WithCancel(t.Context())
	_, err = s.AddBlob(ctx, "a.csv", "", io.MultiReader(bytes.NewReader(data[:3<<20]), readFunc(func([]byte) (int, error) { cancel(); return 0, io.EOF })))
	want(t, "a context that ends meanwhile", err, context.Canceled)
	_, _, err = s.OpenBlob(t.Context(), id)
	want(t, "open after a broken upload", err, store.ErrNotFound)
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
	if b, err := s.AddBlob(t.Context(), "a.csv", "", bytes.NewReader(data)); err != nil || b.ID != id {
		t.Errorf("again: %+v, %v", b, err)
	}
	// A reader that is closed gives no more.
	_, r, err := s.OpenBlob(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadFull(r, make([]byte, 10)); err != nil {
		t.Error(err)
	}
	if err := errors.Join(r.Close(), r.Close()); err != nil {
		t.Errorf("close twice: %v", err)
	}
}

type readFunc func([]byte) (int, error)

func (f readFunc) Read(p []byte) (int, error) { return f(p) }

// blobsSideBySide: uploads of the same and of other bytes at once, while others
// write.
func blobsSideBySide(t *testing.T, s store.Store) {
	var wg sync.WaitGroup
	data := [][]byte{columns(2<<20 + 7), columns(1 << 19)}
	got := make([]store.Blob, 6)
	for i := range got {
		wg.Go(func() {
			b, err := s.AddBlob(t.Context(), "a.csv", "text/csv", bytes.NewReader(data[i%2]))
			if err != nil {
				t.Errorf("upload %d: %v", i, err)
			}
			got[i] = b
		})
		wg.Go(func() {
			if _, err := s.Put(t.Context(), test(fmt.Sprint(i), "")); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	for i, b := range got {
		if b.ID == "" {
			continue // said above
		}
		if _, back := readBlob(t, s, b.ID); b != got[i%2] || !bytes.Equal(back, data[i%2]) {
			t.Errorf("upload %d: got %+v with %d bytes", i, b, len(back))
		}
	}
}
