package sqlite

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"seatproof/internal/store"
)

// The tests below need a second process: this one again, told by its
// environment what to be.
func TestMain(m *testing.M) {
	path := os.Getenv("STORE_CHILD_PATH")
	var err error
	switch os.Getenv("STORE_CHILD") {
	case "":
		os.Exit(m.Run())
	case "write":
		err = writeForever(path)
	case "open":
		err = openOnce(path)
	}
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
}

func child(t *testing.T, what, path string) *exec.Cmd {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), os.Args[0])
	cmd.Env = append(os.Environ(), "STORE_CHILD="+what, "STORE_CHILD_PATH="+path)
	cmd.Stderr = os.Stderr
	return cmd
}

func openOnce(path string) error {
	s, err := Open(context.Background(), path, Options{})
	if err != nil {
		return err
	}
	return s.Close()
}

// pair returns two records that are put in one go, and the body of both.
func pair(n int) []store.Record {
	body := []byte(`"` + strconv.Itoa(n) + strings.Repeat(" filler", n%700) + `"`)
	return []store.Record{{Kind: store.KindJob, ID: fmt.Sprint("a", n), Body: body}, {Kind: store.KindTest, ID: fmt.Sprint("b", n), Body: body}}
}

func bytesOf(n int) []byte {
	b := make([]byte, 2<<20+n)
	_, _ = rand.NewChaCha8([32]byte{byte(n), byte(n >> 8)}).Read(b)
	return b
}

// writeForever writes and says what was kept, until it is killed.
func writeForever(path string) error {
	ctx := context.Background()
	s, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	start := 0
	for {
		_, err := s.Get(ctx, store.KindJob, fmt.Sprint("a", start))
		if errors.Is(err, store.ErrNotFound) {
			break
		}
		start++
	}
	for n := start; ; n++ {
		rs, err := s.PutAll(ctx, pair(n))
		if err != nil {
			return err
		}
		fmt.Println("put", n)
		rs[0].Binned = true
		if _, err := s.Put(ctx, rs[0]); err != nil {
			return err
		}
		fmt.Println("binned", n)
		if n%5 == 0 {
			b, err := s.AddBlob(ctx, "a", "", bytes.NewReader(bytesOf(n)))
			if err != nil {
				return err
			}
			fmt.Println("blob", n, b.ID)
		}
	}
}

// TestKilled kills a program in the middle of its writing, again and again, and
// loses nothing that it said was kept. It stands for a crash of the program; for
// a power cut there is only that every commit is synced: see TestDurable.
func TestKilled(t *testing.T) {
	path := file(t)
	rounds := 6
	if testing.Short() {
		rounds = 3
	}
	if s, err := strconv.Atoi(os.Getenv("STORE_KILLS")); err == nil {
		rounds = s
	}
	said := map[string]bool{}
	dice := rand.New(rand.NewPCG(1, 2))
	for round := range rounds {
		cmd := child(t, "write", path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		if !lines.Scan() {
			t.Fatal("the child said nothing")
		}
		said[lines.Text()] = true
		timer := time.AfterFunc(time.Duration(dice.IntN(400))*time.Millisecond, func() { _ = cmd.Process.Kill() })
		for lines.Scan() {
			said[lines.Text()] = true
		}
		timer.Stop()
		if err := cmd.Wait(); cmd.ProcessState.Exited() {
			t.Fatalf("round %d: the child ended by itself: %v", round, err)
		}
		s, err := Open(t.Context(), path, Options{})
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if err := s.Check(t.Context()); err != nil {
			t.Errorf("round %d: %v", round, err)
		}
		for line := range said {
			if err := kept(t.Context(), s, line); err != nil {
				t.Errorf("round %d: %q was said, and: %v", round, line, err)
			}
		}
		jobs, err := s.List(t.Context(), store.Query{Kind: store.KindJob})
		if err != nil {
			t.Error(err)
		}
		binned, err := s.List(t.Context(), store.Query{Kind: store.KindJob, Binned: true})
		if err != nil {
			t.Error(err)
		}
		tests, err := s.List(t.Context(), store.Query{Kind: store.KindTest})
		if err != nil || len(tests) != len(jobs)+len(binned) {
			t.Errorf("round %d: %d of one kind and %d of the other, put in pairs; error %v", round, len(jobs)+len(binned), len(tests), err)
		}
		shut(t, s)
	}
	t.Logf("%d acknowledged in %d rounds, none lost", len(said), rounds)
}

// kept looks for what the child said it kept.
func kept(ctx context.Context, s *Store, line string) error {
	words := strings.Fields(line)
	n, err := strconv.Atoi(words[1])
	if err != nil {
		return err
	}
	want := pair(n)
	switch words[0] {
	case "blob":
		_, r, err := s.OpenBlob(ctx, words[2])
		if err != nil {
			return err
		}
		b, err := io.ReadAll(r)
		if err == nil && !bytes.Equal(b, bytesOf(n)) {
			err = errors.New("the bytes are others")
		}
		return errors.Join(err, r.Close())
	case "binned":
		r, err := s.Get(ctx, store.KindJob, want[0].ID)
		if err == nil && (!r.Binned || r.Rev != 2) {
			err = fmt.Errorf("it is %+v", r)
		}
		return err
	}
	for _, w := range want {
		r, err := s.Get(ctx, w.Kind, w.ID)
		if err != nil || !bytes.Equal(r.Body, w.Body) {
			return fmt.Errorf("%s %s is %.40q (%w)", w.Kind, w.ID, r.Body, err)
		}
	}
	return nil
}

// TestLockedByAnother: a second program is told, whichever it is, and a killed
// one leaves no lock.
func TestLockedByAnother(t *testing.T) {
	path := file(t)
	cmd := child(t, "write", path)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := out.Read(make([]byte, 1)); err != nil {
		t.Fatal(err)
	}
	go func() { _, _ = io.Copy(io.Discard, out) }()
	_, err = Open(t.Context(), path, Options{})
	if !errors.Is(err, store.ErrLocked) {
		t.Errorf("while another has it: %v, want %v", err, store.ErrLocked)
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait()
	s := opened(t, path)
	said, err := child(t, "open", path).Output()
	if err == nil || !strings.Contains(string(said), store.ErrLocked.Error()) {
		t.Errorf("the other way round: %q, %v", said, err)
	}
	shut(t, s)
	if said, err := child(t, "open", path).Output(); err != nil {
		t.Errorf("afterwards: %q, %v", said, err)
	}
}
