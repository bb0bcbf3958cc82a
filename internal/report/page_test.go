package report

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		t.Skip()
	}
	var b bytes.Buffer
	p := Page{Title: "Inline three, twelve valves", Number: "EX-003", Document: "Job card", Invented: true, Rig: "small rig", Air: "100.9 kPa, 19 °C", Date: "14 March 2026", Version: "0.1"}
	if err := WritePage(&b, p, inventedHead(), Style{}); err != nil {
		t.Fatal(err)
	}
	os.WriteFile(filepath.Join(dir, "index.html"), b.Bytes(), 0o644)
	for i, o := range inventedHead() {
		b.Reset()
		WritePlot(&b, o, Style{})
		os.WriteFile(filepath.Join(dir, "p"+string(rune('0'+i))+".svg"), b.Bytes(), 0o644)
	}
	b.Reset()
	WriteTable(&b, inventedHead(), Style{})
	for _, o := range inventedHead() {
		b.WriteString("\n-----\n")
		WriteText(&b, o, Style{})
	}
	WriteJSON(&b, inventedHead()[3:4], "0.1")
	os.WriteFile(filepath.Join(dir, "text.txt"), b.Bytes(), 0o644)
}
