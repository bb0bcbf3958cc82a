package sqlite

import (
	"path/filepath"
	"testing"

	"seatproof/internal/store"
	"seatproof/internal/store/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(t testing.TB) store.Store {
		return opened(t, filepath.Join(t.TempDir(), "records.db"))
	})
}

// opened opens a file and closes it with the test.
func opened(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(t.Context(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}
