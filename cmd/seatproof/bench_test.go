package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// benchmarkRead times the whole way of n traces of 70 s at 250 Hz, from files
// to JSON, in one process.
func benchmarkRead(b *testing.B, n int) {
	dir := b.TempDir()
	rig := filepath.Join(dir, "rig.toml")
	if err := os.WriteFile(rig, []byte(smallRig), 0o644); err != nil {
		b.Fatal(err)
	}
	args := []string{"read", "--json", "--rig", rig, "--limit", "23 cm3/min"}
	var bytesRead int64
	for i := range n {
		text := inventAt(b, "cylinder 1 intake", 4*float64(1+i%16*8), 44, 0.004, uint64(i))
		name := filepath.Join(dir, fmt.Sprintf("%d.csv", i))
		if err := os.WriteFile(name, text, 0o644); err != nil {
			b.Fatal(err)
		}
		args = append(args, name)
		bytesRead += int64(len(text))
	}
	b.SetBytes(bytesRead)
	for b.Loop() {
		var out, errs bytes.Buffer
		if code := run(args, &out, &errs, false); code != 0 {
			b.Fatalf("exit code %d: %s", code, errs.String())
		}
	}
}

func BenchmarkReadOne(b *testing.B)       { benchmarkRead(b, 1) }
func BenchmarkReadSixtyFour(b *testing.B) { benchmarkRead(b, 64) }
