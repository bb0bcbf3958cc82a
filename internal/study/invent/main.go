// Command invent makes the example head: an inline three with twelve valves,
// six ports of two, that nobody owns. Each test is computed by the forward
// model (rig.Closed with the leak laws of gas; a liquid left in one port, oil on
// one seat), seen through a gauge with its lag, gain, noise and step, and
// written as a logger would.
//
//	go run ./internal/study/invent examples/inline-three
//
// Start with [ports] in head.go, which holds the truth of every port. The
// draws of chance have fixed starts, so that it makes the same files again.
package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"seatproof/trace"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "invent: name the folder to write, such as examples/inline-three")
		os.Exit(2)
	}
	if err := write(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "invent:", err)
		os.Exit(1)
	}
}

// write makes the folder's files.
func write(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	files, err := makeAll()
	if err != nil {
		return err
	}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// makeAll returns the files by name: rig, list of ports, truth and traces.
func makeAll() (map[string][]byte, error) {
	files := map[string][]byte{"rig.toml": []byte(rigFile)}
	var list, truth, masks, masksTruth bytes.Buffer
	var err error
	fmt.Fprintf(&list, "# invented example\n# title %s\n# number %s\nfile,port,valve diameter (mm)\n", title, number)
	fmt.Fprintf(&truth, "# invented example: what each trace was made from; no reader of traces sees this file\n%s\n", truthHead)
	for _, j := range jobs() {
		if files[j.file], err = j.text(); err != nil {
			return nil, err
		}
		fmt.Fprintf(&list, "%s,%s,%g\n", j.file, j.name, j.valve*1e3)
		fmt.Fprintln(&truth, j.truth())
	}
	fmt.Fprintf(&masks, "# invented example: tests with one of a port's valves sealed off, or both\nfile,port,masked\n")
	fmt.Fprintf(&masksTruth, "# invented example: what each trace with a mask was made from\n%s\n", truthHead)
	for _, j := range maskJobs() {
		if files[j.file], err = j.text(); err != nil {
			return nil, err
		}
		fmt.Fprintf(&masks, "%s,%s,%s\n", j.file, j.name, j.masked)
		fmt.Fprintln(&masksTruth, j.truth())
	}
	files["masks.csv"], files["truth-masked.csv"] = masks.Bytes(), masksTruth.Bytes()
	files["ports.csv"], files["truth.csv"] = list.Bytes(), truth.Bytes()
	return files, nil
}

// text is a trace as its logger wrote it.
func (j job) text() ([]byte, error) {
	tr, err := j.trace()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", j.file, err)
	}
	var b bytes.Buffer
	if j.handheld {
		err = writeHandheld(&b, tr)
	} else {
		err = trace.Write(&b, tr)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", j.file, err)
	}
	return b.Bytes(), nil
}

// writeHandheld writes a trace as a second logger does: stamps of the clock
// and inches of mercury.
func writeHandheld(b *bytes.Buffer, tr *trace.Trace) error {
	h := tr.Header
	start, err := clock(h.Started)
	if err != nil {
		return err
	}
	fmt.Fprintf(b, "# rig: %s\n# port: %s\n# held: %s\n# started: %s\n# gauge: %s\n# state: %s\n", h.Rig, h.Port, h.Held, h.Started, h.Gauge, h.State)
	for _, s := range h.Others {
		fmt.Fprintf(b, "# %s\n", s)
	}
	fmt.Fprintln(b, "time,vacuum (inHg)")
	for i, t := range tr.Time {
		ms := int(math.Round((start + t) * 1e3))
		fmt.Fprintf(b, "%02d:%02d:%02d.%03d,%.2f\n", ms/3600000, ms/60000%60, ms/1000%60, ms%1000, tr.Value[i]/inHg)
	}
	return nil
}

// clock returns the time of day [s] of a date and time.
func clock(started string) (float64, error) {
	var date string
	var h, m, s int
	if _, err := fmt.Sscanf(started, "%10sT%2d:%2d:%2d", &date, &h, &m, &s); err != nil {
		return 0, fmt.Errorf("start %q: %w", started, err)
	}
	return float64(3600*h + 60*m + s), nil
}
