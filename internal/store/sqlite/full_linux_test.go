package sqlite

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"seatproof/internal/store"
)

// tiny mounts a disk of some bytes.
func tiny(t *testing.T, size string) string {
	t.Helper()
	if os.Geteuid() != 0 {
		t.Skip("only root may mount a small disk; TestFullFile shows the same by SQLite's own bound")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		t.Skipf("a small disk can't be mounted here: %v; TestFullFile shows the same by SQLite's own bound", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	return dir
}

func TestFullDisk(t *testing.T) {
	dir := tiny(t, "1m")
	path := filepath.Join(dir, "records.db")
	s, err := Open(t.Context(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	fill(t, s)
	shut(t, s)
	// On a disk that is full to the last byte the file still opens or says why.
	hog := filepath.Join(dir, "hog")
	if err := os.WriteFile(hog, make([]byte, 2<<20), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the disk is not full: %v", err)
	}
	before := read(t, path)
	s, err = Open(t.Context(), path, Options{})
	if err == nil {
		if _, err = s.Put(t.Context(), record("after", `"`+strings.Repeat("x", 50_000)+`"`)); err == nil {
			t.Error("a full disk took a record")
		}
		shut(t, s)
	}
	if !errors.Is(err, store.ErrFull) {
		t.Errorf("%v, want %v", err, store.ErrFull)
	}
	if !bytes.Equal(read(t, path), before) {
		t.Error("the file was changed")
	}
	// Room again: everything is there.
	if err := os.Remove(hog); err != nil {
		t.Fatal(err)
	}
	if err := opened(t, path).Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// TestFullFromTheStart: a database that can't be made leaves nothing behind, and
// says so.
func TestFullFromTheStart(t *testing.T) {
	for _, size := range []string{"4k", "40k", "80k", "400k"} {
		path := filepath.Join(tiny(t, size), "records.db")
		s, err := Open(t.Context(), path, Options{})
		if err == nil {
			shut(t, s)
			t.Logf("%s is enough", size)
			continue
		}
		if !errors.Is(err, store.ErrFull) {
			t.Errorf("%s: %v, want %v", size, err, store.ErrFull)
		}
		if n := names(t, path); n != "" {
			t.Errorf("%s: %s was left", size, n)
		}
	}
}
