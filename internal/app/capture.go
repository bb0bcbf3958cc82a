package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"text/tabwriter"
	"time"

	"seatproof/internal/report"
	"seatproof/internal/source"
	"seatproof/internal/source/all"
	"seatproof/internal/source/lines"
	"seatproof/trace"
	"seatproof/unit"
)

// CaptureJob is what a person asks of the command capture. Texts are as typed.
type CaptureJob struct {
	Source string // address
	Beside string // address of a second sensor; "": none
	To     string // file to write
	For    string // "60 s"; "": until stopped
	List   bool   // say which kinds there are and what is found, and stop
	Unit   string // of the vacuum shown
	Port   string
	Held   string
	Rig    string
}

// Capture records one or two sensors to trace files, each its own, with times
// from the same moment. Ctrl-C, the end of the stream and the time asked for
// end it; what was recorded stays whatever happens.
func (a *App) Capture(ctx context.Context, job CaptureJob) Exit {
	if job.List {
		a.listSources(ctx)
		return Answered
	}
	c := capture{app: a, began: time.Now()}
	if err := c.prepare(job); err != nil {
		a.complain(err)
		return Wrong
	}
	if c.limit > 0 {
		var stop context.CancelFunc
		ctx, stop = context.WithTimeout(ctx, c.limit)
		defer stop()
	}
	return c.run(ctx)
}

// capture is one recording.
type capture struct {
	app   *App
	style report.Style
	limit time.Duration
	began time.Time
	recs  []*sensorFile
	mu    sync.Mutex // of what is written to the person
}

// prepare understands the job and opens the files, but no sensor.
func (c *capture) prepare(job CaptureJob) error {
	if job.Source == "" {
		return &fault{"capture", errors.New("no source is named"), "as in seatproof capture serial:/dev/ttyUSB0 --to run.csv; seatproof capture --list shows what there is"}
	}
	if job.To == "" {
		return &fault{"--to", errors.New("no file is named"), "as in --to run.csv"}
	}
	if job.Unit != "" {
		u, ok := report.UnitNamed(job.Unit)
		if !ok {
			return &fault{"--unit", fmt.Errorf("unknown vacuum unit %q", job.Unit), "take one of " + strings.Join(report.VacuumUnits, ", ")}
		}
		c.style.Unit = u
	}
	if job.For != "" {
		q, err := unit.ParseIn(job.For, unit.TimeDim, "s")
		if err == nil && !(q.Value > 0 && q.Value < 1e6) {
			err = errors.New("it must be more than nothing and less than 11 days")
		}
		if err != nil {
			return &fault{"--for", err, "as in --for 60s"}
		}
		c.limit = time.Duration(q.Value * float64(time.Second))
	}
	names := []string{job.To}
	addresses := []string{job.Source}
	if job.Beside != "" {
		ext := filepath.Ext(job.To)
		names = append(names, strings.TrimSuffix(job.To, ext)+"-2"+ext)
		addresses = append(addresses, job.Beside)
	}
	for i, text := range addresses {
		k, address, err := all.Kind(text)
		if err != nil {
			return err
		}
		if i > 0 && address.Kind == "stdin" && strings.HasPrefix(addresses[0], "stdin:") {
			return &fault{"--beside", errors.New("there is only one standard input"), "name another source"}
		}
		src, err := all.Open(text)
		if err != nil {
			return err
		}
		r := &sensorFile{capture: c, src: src, name: names[i], shown: address.Shown(k), address: address}
		r.head = trace.Header{Rig: job.Rig, Port: job.Port, Held: job.Held, Started: c.began.Format(time.RFC3339), Gauge: src.About().Name}
		r.head.Others = append(r.head.Others, "source: "+r.shown)
		if len(names) > 1 {
			r.head.Others = append(r.head.Others, "recorded beside "+filepath.Base(names[1-i])+", times of both from the same moment")
		}
		c.recs = append(c.recs, r)
	}
	for i, r := range c.recs {
		// never over what is there: somebody measured it
		f, err := os.OpenFile(r.name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if err != nil {
			for _, before := range c.recs[:i] {
				before.discard()
			}
			hint := "name a file that can be written"
			if errors.Is(err, fs.ErrExist) {
				hint = "a recording is never written over: name another file"
			}
			return &fault{"--to " + r.name, errors.Unwrap(err), hint}
		}
		r.file = f
	}
	return nil
}

// run records until it is over.
func (c *capture) run(ctx context.Context) Exit {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var work sync.WaitGroup
	for _, r := range c.recs {
		r.stop = stop
		work.Go(func() {
			if err := r.src.Run(ctx, r); err != nil {
				r.fail(err)
				stop() // one without the other is not what was asked for
			}
		})
	}
	ended := make(chan struct{})
	go func() { work.Wait(); close(ended) }()
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	for open := true; open; {
		select {
		case <-ended:
			open = false
		case now := <-tick.C:
			c.progress(now)
		}
	}
	if c.app.Terminal {
		fmt.Fprint(c.app.Stderr, "\r\x1b[K")
	}
	exit := Answered
	for _, r := range c.recs {
		exit = worse(exit, r.close())
	}
	return exit
}

// tooOld is how old a figure may be that is shown as now.
const tooOld = 3 * time.Second

// progress shows the latest vacuum, and sees to it that what was taken lies in
// the file.
func (c *capture) progress(now time.Time) {
	var parts []string
	for _, r := range c.recs {
		r.flush()
		rows := r.rows()
		text := "waiting for the first figure"
		if s, err := r.latest.At(now, tooOld); err == nil {
			text = c.style.Vacuum(s.Value)
			if r.src.About().Reads == trace.Absolute {
				text += " absolute"
			}
		} else if rows > 0 {
			text = err.Error()
		}
		parts = append(parts, fmt.Sprintf("%s, %d samples", text, rows))
	}
	if c.app.Terminal {
		c.mu.Lock()
		defer c.mu.Unlock()
		fmt.Fprintf(c.app.Stderr, "\r\x1b[K%6.1f s  %s", now.Sub(c.began).Seconds(), strings.Join(parts, " | "))
	}
}

// sensorFile is one sensor's recording. It is the sensor's sink.
type sensorFile struct {
	capture *capture
	src     source.Source
	address source.Address
	shown   string
	name    string
	head    trace.Header
	stop    context.CancelFunc
	latest  source.Latest

	mu    sync.Mutex
	file  *os.File
	out   *trace.Writer
	first source.Sample
	from  float64 // s from the beginning to the first sample
	kept  int     // rows that lie in the file for certain
	err   error
}

// Take writes samples.
func (r *sensorFile) Take(samples []source.Sample) {
	r.latest.Take(samples)
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.err != nil {
		return
	}
	if r.out == nil {
		about := r.src.About()
		if about.Resolution > 0 {
			r.head.Others = append(r.head.Others, fmt.Sprintf("resolution: %.4g kPa", about.Resolution/1e3))
		}
		if words, options := source.Explain(r.src); words != "" {
			r.learned(words, options)
		}
		r.out = trace.NewWriter(r.file, r.head, about.Reads)
		r.first, r.from = samples[0], samples[0].At.Sub(r.capture.began).Seconds()
	}
	for _, s := range samples {
		if err := r.out.Row(r.from+source.Elapsed(r.first, s), s.Value); err != nil {
			r.failed(err)
			return
		}
	}
}

// learned says how the lines are read, and how to say so the next time.
func (r *sensorFile) learned(words string, options map[string]string) {
	a := r.address
	a.Options = maps.Clone(a.Options)
	maps.Copy(a.Options, options)
	k, _, _ := all.Kind(a.String())
	r.head.Others = append(r.head.Others, "read as: "+words)
	r.capture.say(fmt.Sprintf("reads %s; to say so the next time: %s", words, shellQuoted(a.Shown(k))))
}

// Tell writes a notice between the rows, and to the person.
func (r *sensorFile) Tell(n source.Notice) {
	r.latest.Tell(n)
	at := n.At.Sub(r.capture.began).Seconds()
	text := n.Code.Words()
	if n.Detail != "" {
		text += ": " + n.Detail
	}
	if n.Count > 1 {
		text += fmt.Sprintf(" (%d times)", n.Count)
	}
	r.capture.say(fmt.Sprintf("%.1f s: %s", at, text))
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.out != nil && r.err == nil {
		r.out.Remark(fmt.Sprintf("at %.1f s %s", at, text))
	}
}

// say writes a line beside the progress.
func (c *capture) say(text string) {
	if c.app.Terminal {
		text = "\r\x1b[K" + text
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	fmt.Fprintln(c.app.Stderr, text)
}

func (r *sensorFile) fail(err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.failed(err)
}

// failed keeps the first error and ends the recording.
func (r *sensorFile) failed(err error) {
	if r.err == nil {
		r.err = err
	}
	if r.stop != nil {
		r.stop()
	}
}

func (r *sensorFile) rows() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.out == nil {
		return 0
	}
	return r.out.Rows()
}

// flush hands what was taken to the system.
func (r *sensorFile) flush() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.flushed()
}

func (r *sensorFile) flushed() {
	if r.out == nil || r.err != nil {
		return
	}
	n := r.out.Rows()
	if err := r.out.Flush(); err != nil {
		r.failed(err)
		return
	}
	r.kept = n
}

// discard removes a file that nothing was written to.
func (r *sensorFile) discard() {
	r.file.Close()
	os.Remove(r.name)
}

// close ends the file and says what is in it.
func (r *sensorFile) close() Exit {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.flushed()
	if r.out == nil {
		r.discard()
		if r.err != nil {
			r.capture.app.complain(r.err)
			r.offer()
			return Wrong
		}
		fmt.Fprintf(r.capture.app.Stderr, "seatproof: %s gave nothing, and no file was written; is it on, and sending?\n", r.shown)
		return Unanswered
	}
	if r.err == nil {
		if err := r.file.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) { // a pipe can't
			r.err = err
		}
	}
	if err := r.file.Close(); err != nil && r.err == nil {
		r.err = err
	}
	if r.err != nil {
		hint := ""
		if errors.Is(r.err, syscall.ENOSPC) {
			hint = "; the disk is full"
		}
		r.capture.app.complain(fmt.Errorf("%w%s; %d samples are in %s", r.err, hint, r.kept, r.name))
		return Wrong
	}
	fmt.Fprintf(r.capture.app.Stdout, "%d samples in %s; read it with: seatproof read %s\n", r.out.Rows(), r.name, shellQuoted(r.name))
	return Answered
}

// offer shows the ways in which lines could be read, after a fault that asks.
func (r *sensorFile) offer() {
	var u *lines.UnsureError
	if !errors.As(r.err, &u) {
		return
	}
	w := r.capture.app.Stderr
	fmt.Fprintln(w, "what came:")
	for _, l := range u.Lines {
		fmt.Fprintf(w, "  %q\n", l)
	}
	fmt.Fprintln(w, "it could be read as:")
	for _, c := range u.Candidates[:min(len(u.Candidates), 4)] {
		a := r.address
		a.Options = maps.Clone(a.Options)
		for key, v := range c.Options() {
			if _, said := a.Options[key]; !said {
				a.Options[key] = v
			}
		}
		for _, key := range c.Ask {
			if _, said := a.Options[key]; !said {
				a.Options[key] = map[string]string{"unit": "kPa", "reads": "gauge", "table": "0.5 V = 0 kPa; 4.5 V = -100 kPa"}[key]
			}
		}
		k, _, _ := all.Kind(a.String())
		fmt.Fprintf(w, "  %s, last %.6g\n    as in %s\n", c.Words, c.Now, shellQuoted(a.Shown(k)))
	}
}

// shellQuoted puts quotes about what a shell would take apart.
func shellQuoted(s string) string {
	if strings.IndexFunc(s, func(r rune) bool {
		return r != '-' && r != '_' && r != '.' && r != '/' && r != ':' && (r < '0' || r > '9') && (r|0x20 < 'a' || r|0x20 > 'z')
	}) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

// listSources says which kinds of sources there are, and what is found.
func (a *App) listSources(ctx context.Context) {
	fmt.Fprintln(a.Stdout, "A source may be")
	writeTable(a.Stdout, func(w io.Writer) {
		for _, k := range all.Kinds() {
			fmt.Fprintf(w, "  %s\t%s\n  \tas in %s\n", k.Name, k.Words, k.Example)
		}
	})
	found := all.Find(ctx)
	if len(found) == 0 {
		fmt.Fprintln(a.Stdout, "\nNothing that could be a sensor was found on this machine; what is on the network is not looked for.")
		return
	}
	fmt.Fprintln(a.Stdout, "\nFound on this machine")
	writeTable(a.Stdout, func(w io.Writer) {
		for _, f := range found {
			note := f.Words
			for _, more := range []string{f.Skipped, f.Failed} {
				if more != "" {
					note += "; " + more
				}
			}
			fmt.Fprintf(w, "  %s\t%s\n", f.Address, note)
		}
	})
}

func writeTable(to io.Writer, rows func(w io.Writer)) {
	w := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	rows(w)
	w.Flush()
}
