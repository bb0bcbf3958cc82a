package sqlite

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"testing"

	"seatproof/internal/store"
)

// body is about as long as a test's.
var body = bytes.Join([][]byte{[]byte(`{"v":1,"note":"`), bytes.Repeat([]byte("x"), 500), []byte(`"}`)}, nil)

func benchRecord(i int) store.Record {
	return store.Record{Kind: store.KindTest, ID: fmt.Sprintf("%032d", i), JobID: "j", At: int64(i), By: "M.K.", Body: body}
}

func fillTests(b *testing.B, s *Store, n int) {
	b.Helper()
	var rs []store.Record
	for i := range n {
		rs = append(rs, benchRecord(i))
	}
	if _, err := s.PutAll(b.Context(), rs); err != nil {
		b.Fatal(err)
	}
}

func BenchmarkOpen(b *testing.B) {
	path, _ := filledFile(b)
	for b.Loop() {
		s, err := Open(b.Context(), path, Options{})
		if err != nil {
			b.Fatal(err)
		}
		shut(b, s)
	}
}

func BenchmarkPut(b *testing.B) {
	s := opened(b, file(b))
	i := 0
	for b.Loop() {
		if _, err := s.Put(b.Context(), benchRecord(i)); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

func BenchmarkGet(b *testing.B) {
	s := opened(b, file(b))
	fillTests(b, s, 300)
	for b.Loop() {
		if _, err := s.Get(b.Context(), store.KindTest, benchRecord(7).ID); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkList lists one job's 300 tests among 3,000.
func BenchmarkList(b *testing.B) {
	s := opened(b, file(b))
	fillTests(b, s, 300)
	var others []store.Record
	for i := range 2700 {
		r := benchRecord(300 + i)
		r.JobID = fmt.Sprint(i % 9)
		others = append(others, r)
	}
	if _, err := s.PutAll(b.Context(), others); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		rs, err := s.List(b.Context(), store.Query{Kind: store.KindTest, JobID: "j"})
		if err != nil || len(rs) != 300 {
			b.Fatal(len(rs), err)
		}
	}
}

// trace returns n bytes like a logger's file.
func trace(n int) []byte {
	var b bytes.Buffer
	dice := rand.New(rand.NewPCG(3, 4))
	for i := 0; b.Len() < n; i++ {
		fmt.Fprintf(&b, "%.3f,%.2f\n", float64(i)/100, 62-float64(i)/1e5+dice.NormFloat64()/20)
	}
	return b.Bytes()[:n]
}

func BenchmarkBlobAdd1MB(b *testing.B) {
	s := opened(b, file(b))
	data := trace(1e6)
	b.SetBytes(int64(len(data)))
	i := 0
	for b.Loop() {
		copy(data, fmt.Sprintf("%08d", i)) // or it would be kept once
		if _, err := s.AddBlob(b.Context(), "a.csv", "text/csv", bytes.NewReader(data)); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

func BenchmarkBlobRead1MB(b *testing.B) {
	s := opened(b, file(b))
	data := trace(1e6)
	blob, err := s.AddBlob(b.Context(), "a.csv", "text/csv", bytes.NewReader(data))
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		_, r, err := s.OpenBlob(b.Context(), blob.ID)
		if err != nil {
			b.Fatal(err)
		}
		if n, err := io.Copy(io.Discard, r); err != nil || n != int64(len(data)) {
			b.Fatal(n, err)
		}
	}
}

// endless hands out the same megabyte, numbered, up to n bytes.
type endless struct {
	data []byte
	left int64
	at   int
}

func (e *endless) Read(p []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	if e.at == 0 {
		copy(e.data, fmt.Sprintf("%012d", e.left))
	}
	n := copy(p[:min(int64(len(p)), e.left)], e.data[e.at:])
	e.at = (e.at + n) % len(e.data)
	e.left -= int64(n)
	return n, nil
}

// TestLargeBlob: a trace of 200 MB (30 MB in the short form) goes in and out
// while the heap stays small.
func TestLargeBlob(t *testing.T) {
	size := int64(200e6)
	if testing.Short() {
		size = 30e6
	}
	s := opened(t, file(t))
	var most uint64
	var m runtime.MemStats
	watch := func() {
		runtime.ReadMemStats(&m)
		most = max(most, m.HeapAlloc)
	}
	watched := func(r io.Reader) io.Reader {
		seen := 0
		return readFunc(func(p []byte) (int, error) {
			n, err := r.Read(p)
			if seen += n; seen > 8<<20 {
				seen = 0
				watch()
			}
			return n, err
		})
	}
	runtime.GC()
	runtime.ReadMemStats(&m)
	before := m.HeapAlloc
	data := trace(1e6)
	b, err := s.AddBlob(t.Context(), "long.csv", "text/csv", watched(&endless{data: data, left: size}))
	if err != nil || b.Size != size {
		t.Fatalf("%+v, %v", b, err)
	}
	_, r, err := s.OpenBlob(t.Context(), b.ID)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if n, err := io.Copy(io.Discard, watched(r)); err != nil || n != size {
		t.Fatalf("%d bytes, %v", n, err)
	}
	const allowed = 20 << 20 // pieces of 1 MB, and what the collector leaves for later
	if most > before+allowed {
		t.Errorf("the heap grew by %d MB for a blob of %d MB, want at most %d", (most-before)>>20, size/1e6, allowed>>20)
	}
	t.Logf("%d MB: the heap grew by %.1f MB at most, from %.1f MB", size/1e6, (float64(most)-float64(before))/1e6, float64(before)/1e6)
}

type readFunc func([]byte) (int, error)

func (f readFunc) Read(p []byte) (int, error) { return f(p) }
