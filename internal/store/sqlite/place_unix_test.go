//go:build unix

package sqlite

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"seatproof/internal/store"
)

// nobody is the user that owns nothing, by custom.
const nobody = 65534

// TestReadOnly opens as a person without the right to write: a child that is
// nobody where the test is root, for whom no folder is read-only.
func TestReadOnly(t *testing.T) {
	for what, forbid := range map[string]func(t *testing.T, path string){
		"folder, no file yet": func(t *testing.T, path string) {
			remake(t, path, false)
			chmod(t, filepath.Dir(path), 0o555)
		},
		"folder": func(t *testing.T, path string) {
			remake(t, path, true)
			chmod(t, filepath.Dir(path), 0o555)
		},
		"file": func(t *testing.T, path string) {
			remake(t, path, true)
			chmod(t, path, 0o444)
			chmod(t, filepath.Dir(path), 0o777)
		},
	} {
		t.Run(what, func(t *testing.T) {
			path := file(t)
			chmod(t, filepath.Dir(filepath.Dir(path)), 0o755) // so that nobody gets as far
			forbid(t, path)
			t.Cleanup(func() { chmod(t, filepath.Dir(path), 0o755) }) // or it can't be thrown away
			before := contents(t, path)
			cmd := child(t, "open", path)
			if os.Geteuid() == 0 {
				// The test's binary lies where nobody may not go.
				bin := filepath.Join(t.TempDir(), "child")
				b := read(t, os.Args[0])
				if err := os.WriteFile(bin, b, 0o755); err != nil {
					t.Fatal(err)
				}
				chmod(t, filepath.Dir(bin), 0o755)
				chmod(t, filepath.Dir(filepath.Dir(bin)), 0o755)
				cmd.Path, cmd.Args, cmd.Dir = bin, []string{bin}, "/"
				cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
			}
			said, err := cmd.Output()
			if err == nil || !strings.Contains(string(said), store.ErrReadOnly.Error()) || !strings.Contains(string(said), path) {
				t.Errorf("said %q, error %v, want %q and the path", said, err, store.ErrReadOnly)
			}
			if after := contents(t, path); !bytes.Equal(after, before) {
				t.Errorf("the file was changed")
			}
		})
	}
}

// remake makes a sound file, or none, without a lock file that could be opened.
func remake(t *testing.T, path string, there bool) {
	t.Helper()
	if !there {
		return
	}
	from, _ := filledFile(t)
	write(t, path, read(t, from))
}

func contents(t *testing.T, path string) []byte {
	b, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		t.Fatal(err)
	}
	return b
}

func chmod(t *testing.T, path string, mode os.FileMode) {
	t.Helper()
	if err := os.Chmod(path, mode); err != nil {
		t.Fatal(err)
	}
}

// TestLockFileSaysWho: the message names the process to end.
func TestLockFileSaysWho(t *testing.T) {
	path := file(t)
	opened(t, path)
	_, err := Open(t.Context(), path, Options{})
	if err == nil || !strings.Contains(err.Error(), fmt.Sprint("process ", os.Getpid())) {
		t.Errorf("%v", err)
	}
}
