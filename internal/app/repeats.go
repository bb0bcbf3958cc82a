package app

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/trace"
)

// together makes one outcome of several tests of one port. Only like is compared
// with like: files that contradict each other (rig, port, held, gauge, state,
// seat), or the same recording twice, are an error that names both. traces are
// those of the outcomes, nil where a file could not be read.
func together(q question, outcomes []*report.Outcome, traces []*trace.Trace, diameter float64) (*report.Outcome, error) {
	if err := alike(q, outcomes, traces); err != nil {
		return nil, err
	}
	out := &report.Outcome{Each: outcomes}
	var names []string
	var tests []leak.Test
	var index []int // of tests among the outcomes
	for i, o := range outcomes {
		names = append(names, o.File)
		if o.Err != nil {
			out.Err = o.Err
			continue
		}
		if out.Port == "" {
			out.Port = o.Port
		}
		if out.Started == "" || o.Started != "" && o.Started < out.Started {
			out.Started = o.Started
		}
		tests = append(tests, leak.Test{Name: shortName(o.File, outcomes), Reading: o.Reading})
		index = append(index, i)
	}
	out.File = strings.Join(names, ", ")
	if len(tests) == 0 {
		return out, nil
	}
	out.Err = nil // the others answer
	out.Reading = leak.Together(tests, q.scatter)
	out.Middle = index[0]
	if rep := out.Reading.Repeats; rep != nil {
		out.Middle = index[rep.Middle]
	} else {
		for i, o := range outcomes {
			if o.Answered() {
				out.Middle = i
			}
		}
	}
	m := outcomes[out.Middle]
	out.Held, out.Faults, out.Sketch = m.Held, m.Faults, m.Sketch
	out.Room, out.Volume, out.RigLeak = m.Room, m.Volume, m.RigLeak
	if w := unlike(outcomes, traces); w != nil {
		out.Reading.Warnings = append(out.Reading.Warnings, *w)
	}
	return out, judge(out, q, diameter, out.Reading.RoomTemp)
}

// shortName is a file's name without its folder, where no other has it too.
func shortName(name string, all []*report.Outcome) string {
	base, n := filepath.Base(name), 0
	for _, o := range all {
		if filepath.Base(o.File) == base {
			n++
		}
	}
	if n > 1 {
		return name
	}
	return base
}

// alike fails on the same recording twice and on files that contradict each
// other.
func alike(q question, outcomes []*report.Outcome, traces []*trace.Trace) error {
	for i, a := range traces {
		for j, b := range traces[:i] {
			if a == nil || b == nil {
				continue
			}
			here, there := outcomes[i].File, outcomes[j].File
			if trace.Same(a, b) {
				return &fault{there + " and " + here, errors.New("these are the same recording, sample by sample"), "name each test once"}
			}
			ha, hb := a.Header, b.Header
			if q.held { // said on the command line, before all files
				ha.Held, hb.Held = "", ""
			}
			if x, y := outcomes[i].Held, outcomes[j].Held; x != y && (ha.Held == "" || hb.Held == "") {
				return &fault{there + " and " + here, fmt.Errorf("the valves were held by %s in the one and by %s in the other, where a file does not say and the rig file does", report.HeldWords(y), report.HeldWords(x)), "say in each file what held them (# held: thumb), or for all of them with --held"}
			}
			if field, x, y, ok := ha.Contradicts(hb); ok {
				return &fault{there + " and " + here, fmt.Errorf("%s is %q in the one and %q in the other", field, y, x), "only like is compared with like: read them apart, or put the comment line right"}
			}
		}
	}
	return nil
}

// unlike returns a warning where a file's step or kind differs from the first's.
func unlike(outcomes []*report.Outcome, traces []*trace.Trace) *leak.Warning {
	var first *trace.Trace
	var names []string
	for i, t := range traces {
		switch {
		case t == nil:
		case first == nil:
			first = t
			names = append(names, shortName(outcomes[i].File, outcomes))
		case t.Kind != first.Kind || t.Step > 0 && first.Step > 0 && (t.Step > 1.5*first.Step || first.Step > 1.5*t.Step):
			names = append(names, shortName(outcomes[i].File, outcomes))
		}
	}
	if len(names) < 2 {
		return nil
	}
	return &leak.Warning{Code: leak.UnlikeGauges, Name: strings.Join(names, ", ")}
}

// namedTwice fails where two names of a command are one file.
func namedTwice(files []string) error {
	var infos []os.FileInfo
	for i, name := range files {
		info, err := os.Stat(name)
		if err != nil {
			info = nil // said when it is read
		}
		for j, other := range infos {
			if other != nil && info != nil && os.SameFile(info, other) {
				return &fault{"--same-port", fmt.Errorf("%s and %s are one file", files[j], files[i]), "name each test once"}
			}
		}
		infos = append(infos, info)
	}
	return nil
}

// notTraces are the endings of files in a shop's folder that are no recordings.
var notTraces = []string{".toml", ".md", ".svg", ".png", ".jpg", ".jpeg", ".pdf", ".html", ".json", ".db"}

// learn reads a folder of a shop's repeats and sets the scatter between tests.
// Files of one sub-folder that say the same port (and rig, held, gauge, state,
// seat) are tests of one port. Recordings that are also being judged (read) are
// left out: they speak for themselves already.
func (a *App) learn(q *question, folder string, work func([]port) ([]*report.Outcome, error), read []string) error {
	var ports []port
	var groups []string
	switch info, err := os.Stat(folder); {
	case errors.Is(err, fs.ErrNotExist):
		return &fault{"--repeats", fmt.Errorf("there is no folder %s", folder), "name one with a sub-folder for each port's tests"}
	case err == nil && !info.IsDir():
		return &fault{"--repeats", fmt.Errorf("%s is a file", folder), "name a folder with a sub-folder for each port's tests"}
	}
	err := filepath.WalkDir(folder, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".") {
			return err
		}
		for _, e := range notTraces {
			if strings.EqualFold(filepath.Ext(name), e) {
				return nil
			}
		}
		for _, f := range read {
			x, err1 := os.Stat(f)
			y, err2 := os.Stat(name)
			if err1 == nil && err2 == nil && (os.SameFile(x, y) || sameBytes(f, name)) {
				fmt.Fprintf(a.Stderr, "seatproof: %s: is being read, so it does not also teach the scatter between tests\n", name)
				return nil
			}
		}
		ports = append(ports, port{file: name, keep: new(*trace.Trace), open: func() (io.ReadCloser, error) { return os.Open(name) }})
		groups = append(groups, filepath.Dir(name))
		return nil
	})
	if err != nil {
		return &fault{"--repeats", err, "name a folder with a sub-folder for each port's tests"}
	}
	outcomes, err := work(ports)
	if err != nil {
		return err
	}
	byPort := map[string][]int{}
	var order []string
	var taken []int
	for i, o := range outcomes {
		switch {
		case o.Err != nil:
			a.complain(fmt.Errorf("--repeats: left out: %w", o.Err))
			continue
		case o.Reading.Refusal != nil:
			a.complain(fmt.Errorf("--repeats: left out: %s: refused: %s", o.File, o.Why(q.style).What))
			continue
		case o.Reading.Leak == nil:
			a.complain(fmt.Errorf("--repeats: left out: %s: it carries no leak rate; the rig's volume and the port's are needed", o.File))
			continue
		}
		key := groups[i]
		for _, f := range (*ports[i].keep).Header.Fields() {
			key += "\x00" + strings.ToLower(strings.Join(strings.Fields(f[1]), " "))
		}
		if same := sameAs(taken, i, ports); same >= 0 {
			a.complain(fmt.Errorf("--repeats: left out: %s: it is the same recording as %s", o.File, outcomes[same].File))
			continue
		}
		if byPort[key] == nil {
			order = append(order, key)
		}
		byPort[key] = append(byPort[key], i)
		taken = append(taken, i)
	}
	var readings [][]*leak.Reading
	alone := 0
	for _, key := range order {
		var g []*leak.Reading
		for _, i := range byPort[key] {
			g = append(g, outcomes[i].Reading)
		}
		if len(g) == 1 {
			alone++
		}
		readings = append(readings, g)
	}
	s := leak.LearnScatter(readings)
	line := fmt.Sprintf("seatproof: scatter between tests: median %s %%, from %s, %d tests", report.Figure(100*s.CV().Median, 2), counted(s.Ports, "port"), s.Tests)
	switch {
	case len(outcomes) == 0:
		line = "seatproof: scatter between tests: there is no recording in " + folder + " beside those being read, so it stays a guess"
	case s.Ports == 0:
		line = "seatproof: scatter between tests: no port in " + folder + " has two tests, so it stays a guess"
	}
	if alone > 0 {
		line += fmt.Sprintf("; left out: %s with one test", counted(alone, "port"))
	}
	fmt.Fprintln(a.Stderr, line)
	if s.Ports > 0 {
		q.scatter = s
	}
	return nil
}

func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// sameBytes says whether two files hold the same; not if one can't be read.
func sameBytes(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	if err1 != nil || err2 != nil || x.Size() != y.Size() {
		return false
	}
	p, err1 := os.ReadFile(a)
	q, err2 := os.ReadFile(b)
	return err1 == nil && err2 == nil && bytes.Equal(p, q)
}

// sameAs returns which of the ports in a list is the same recording as port i,
// or -1.
func sameAs(group []int, i int, ports []port) int {
	for _, j := range group {
		if trace.Same(*ports[i].keep, *ports[j].keep) {
			return j
		}
	}
	return -1
}
