package archive

import (
	"context"
	"testing"

	"seatproof/internal/store"
	"seatproof/internal/store/mem"
)

// FuzzImport: no file makes an import panic, or leaves half of itself; what is
// taken in can be given out again.
func FuzzImport(f *testing.F) {
	ctx := context.Background()
	from := mem.New()
	file := exported(f, ctx, from, filled(f, ctx, from))
	f.Add(file)
	f.Add(file[:len(file)/2])
	f.Add([]byte("PK\x05\x06" + string(make([]byte, 18))))
	f.Fuzz(func(t *testing.T, file []byte) {
		to := mem.New()
		in, err := imported(ctx, to, file, Options{Limits: Limits{Bytes: 1 << 20}})
		jobs, lerr := to.List(ctx, store.Query{Kind: store.KindJob})
		if lerr != nil {
			t.Fatal(lerr)
		}
		if err != nil {
			if n := len(changes(t, ctx, to)); n != 0 {
				t.Fatalf("%v, and %d changes", err, n)
			}
			return
		}
		if len(jobs) > 1 {
			t.Fatalf("%d jobs came", len(jobs))
		}
		exported(t, ctx, to, in.JobID)
	})
}
