package app

import (
	"bytes"
	"context"
	"errors"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"seatproof/internal/store/place"
	"seatproof/internal/store/sqlite"
)

// disk mounts a small disk, which only root may; the tests of internal/store/sqlite
// show the same by other means where that can't be done.
func disk(t *testing.T, size string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		t.Skipf("a small disk can't be mounted here: %v; internal/store/sqlite tries a full file by SQLite's own bound", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// A disk that fills while the server runs: what is sent is answered with 503, all
// that was kept can be read, and once there is room the same is taken.
func TestDiskFills(t *testing.T) {
	folder := disk(t, "8m")
	address, stop := served(t, ServeJob{Data: folder})
	head := func(number string) map[string]any {
		return map[string]any{"number": number, "layout": map[string]any{"kind": "inline", "cylinders": 1, "valves": 2}, "notes": strings.Repeat("x", 60_000)}
	}
	post(t, address+"api/heads", head("A"), 201)
	hog := filepath.Join(folder, "hog")
	if err := os.WriteFile(hog, make([]byte, 9<<20), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the disk is not full: %v", err)
	}
	before, _ := getAll(t, address+"api/heads", 200)
	what, do := post(t, address+"api/heads", head("B"), 503)
	if what != "the disk is full" || !strings.Contains(do, "make room") || !strings.Contains(do, "what was saved before is safe") {
		t.Errorf("it says %q, %q", what, do)
	}
	// A recording, too long for what is left.
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, _ := w.CreateFormFile("file", "log.csv")
	_, _ = part.Write([]byte("time_s,vacuum_kPa\n" + strings.Repeat("0.1,2.5\n", 400_000)))
	w.Close()
	res, err := http.Post(address+"api/preview", w.FormDataContentType(), &form)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 503 {
		t.Errorf("a recording on a full disk: status %d, want 503", res.StatusCode)
	}
	if after, _ := getAll(t, address+"api/heads", 200); !bytes.Equal(after, before) {
		t.Errorf("the heads are\n%s\nand were\n%s", after, before)
	}
	if err := os.Remove(hog); err != nil {
		t.Fatal(err)
	}
	post(t, address+"api/heads", head("B"), 201)
	stop()
	s, err := sqlite.Open(t.Context(), place.Database(folder), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// A disk that is full from the start.
func TestDiskFullAtStart(t *testing.T) {
	folder := disk(t, "32k")
	refusedStart(t, "a full disk", ServeJob{Data: folder}, "the disk is full", "make room first", "--data "+folder)
}

// A folder, or a file, that can't be written: said at the start, to a person who may
// not write and to one whose disk may not.
func TestReadOnlyAtStart(t *testing.T) {
	for name, forbid := range map[string]func(folder, file string) error{
		"folder": func(folder, _ string) error { return mountReadOnly(folder) },
		"file":   func(_, file string) error { return mountReadOnly(file) },
	} {
		folder, file := booked(t)
		before, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		at := map[string]string{"folder": folder, "file": file}[name]
		if err := forbid(folder, file); err != nil {
			t.Skipf("nothing can be mounted here: %v; internal/store/sqlite tries it by permissions", err)
		}
		refusedStart(t, name, ServeJob{Data: folder}, "can't be written", "check the folder's permissions", file)
		var errs bytes.Buffer
		a := &App{Stderr: &errs}
		if e := a.Import(context.Background(), ImportJob{File: file, Data: folder}); e != Wrong || !strings.Contains(errs.String(), "can't be written") {
			t.Errorf("%s: import: exit %d, %q", name, e, errs.String())
		}
		if after, err := os.ReadFile(file); err != nil || !bytes.Equal(after, before) {
			t.Errorf("%s: the file was changed, error %v", name, err)
		}
		if err := syscall.Unmount(at, 0); err != nil {
			t.Error(err)
		}
	}
	fresh := disk(t, "1m")
	if err := syscall.Mount("", fresh, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	refusedStart(t, "a folder with nothing in it", ServeJob{Data: fresh}, "can't be written", "--data "+fresh)
	refusedStart(t, "a folder to be made there", ServeJob{Data: filepath.Join(fresh, "new")}, "name a folder that can be written")
}

// mountReadOnly mounts a folder or a file over itself, read-only.
func mountReadOnly(path string) error {
	if err := syscall.Mount(path, path, "", syscall.MS_BIND, ""); err != nil {
		return err
	}
	return syscall.Mount("", path, "", syscall.MS_REMOUNT|syscall.MS_BIND|syscall.MS_RDONLY, "")
}
