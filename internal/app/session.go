package app

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/term"

	"seatproof/head"
	"seatproof/internal/session"
	"seatproof/internal/store/place"
	"seatproof/internal/store/sqlite"
	"seatproof/internal/web"
)

// SessionJob is what a person asks of the command session.
type SessionJob struct {
	Job      string // number or identity of the head
	Data     string
	Sources  []string
	Practise bool
	Speed    float64 // of the practice rig
	Faults   []string
	Known    string
	By       string

	Stdin io.Reader
}

// Session runs a head's tests in a terminal: large figures and keys where it is
// one, lines of text where it is not.
func (a *App) Session(ctx context.Context, job SessionJob) Exit {
	if err := a.session(ctx, job); err != nil {
		a.complain(err)
		return Wrong
	}
	return Answered
}

func (a *App) session(ctx context.Context, job SessionJob) error {
	if len(job.Sources) == 0 && !job.Practise {
		return &fault{"session", errors.New("nothing says where the vacuum comes from"), "give --source ADDRESS, or --practise; seatproof capture --list shows what is there"}
	}
	folder, err := dataFolder(job.Data)
	if err != nil {
		return &fault{"--data", err, "name a folder that can be written"}
	}
	records, err := sqlite.Open(ctx, place.Database(folder), sqlite.Options{})
	var by *sqlite.InUse
	if errors.As(err, &by) && by.Address != "" {
		return &fault{"--data " + folder, err, "another seatproof has these records open: the sheets at " + by.Address + " run sessions too, so open that in a browser"}
	}
	if err != nil {
		return &fault{"--data " + folder, err, openHint(err)}
	}
	defer records.Close()
	j, err := findJob(ctx, records, job.Job)
	if err != nil {
		return err
	}
	log := slog.New(slog.DiscardHandler) // a screen is drawn here
	l := newLive(filepath.Join(folder, "runs"), log)
	config := a.sheetsOn(records, log)
	config.Live = l
	sheets, err := web.New(config)
	if err != nil {
		return err
	}
	l.sheets = sheets
	defer func() {
		stopping, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		defer cancel()
		if err := l.Stop(stopping); err != nil {
			a.complain(err)
		}
	}()
	l.resume(ctx)
	reader := l.Join()
	defer reader.Leave()
	if err := beginSession(ctx, l, sheets, j, job); err != nil {
		return err
	}
	in, isFile := job.Stdin.(*os.File)
	out, isOut := a.Stdout.(*os.File)
	if isFile && isOut && term.IsTerminal(int(in.Fd())) && term.IsTerminal(int(out.Fd())) {
		return a.sessionScreen(ctx, l, sheets, reader, in, out)
	}
	return a.sessionLines(ctx, l, sheets, reader, job.Stdin)
}

// beginSession begins a run, or joins the one that was cut short.
func beginSession(ctx context.Context, l *live, sheets *web.Server, j head.Job, job SessionJob) error {
	if n, ok := l.Now(); ok && n.View.Stage != session.Over {
		if n.Run.Job != j.ID {
			return &fault{job.Job, fmt.Errorf("a session on head %s was cut short and goes on first", n.Run.Number), "seatproof session " + n.Run.Number + " goes on with it"}
		}
		return nil
	}
	ask := web.LiveAsk{Job: j.ID, Sources: job.Sources, Known: job.Known, By: job.By}
	if job.Practise {
		ask.Practise = &web.LivePractise{Speed: job.Speed, Faults: job.Faults}
	}
	err := sheets.BeginLive(ctx, ask)
	var f *web.Fault
	if errors.As(err, &f) && len(f.Fields) > 0 {
		x := f.Fields[0]
		return &fault{strings.TrimSuffix(x.Field, ".0"), errors.New(strings.TrimSuffix(lowerFirst(x.What), ".")), strings.TrimSuffix(lowerFirst(x.Maybe), ".")}
	}
	return err
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// linesHelp says which keys there are, each with Enter.
const linesHelp = "keys, each with Enter: n next, a again, r PORT file the last test under that port, s shut off, k skip, q end"

// sessionLines runs a session by lines of text, until it is over or ctx ends.
func (a *App) sessionLines(ctx context.Context, l *live, sheets *web.Server, reader web.LiveReader, stdin io.Reader) error {
	fmt.Fprintln(a.Stdout, linesHelp)
	typed := make(chan string)
	quit, end := context.WithCancel(ctx)
	defer end()
	go func() { // ends with the input, or with the program
		for lines := bufio.NewScanner(stdin); lines.Scan(); {
			select {
			case typed <- strings.TrimSpace(lines.Text()):
			case <-quit.Done():
				return
			}
		}
	}()
	for {
		select {
		case <-ctx.Done():
			return nil
		case text := <-typed:
			s, _ := sheets.LiveScreen(ctx, web.LiveNews{})
			k, ok := keyOf(text, s.Ports)
			if !ok {
				fmt.Fprintln(a.Stdout, linesHelp)
				continue
			}
			if err := l.Key(ctx, k); err != nil {
				return err
			}
		case <-reader.Wake():
			s, ok := sheets.LiveScreen(ctx, reader.Take())
			for _, w := range s.Said {
				fmt.Fprintln(a.Stdout, w)
			}
			if ok && s.Over {
				return a.sessionEnded(ctx, l, sheets, reader)
			}
		}
	}
}

// keyOf understands what was typed: a key, for r with a port's name.
func keyOf(text string, ports [][2]string) (session.Key, bool) {
	key, rest, _ := strings.Cut(strings.ToLower(text), " ")
	do, ok := map[string]session.Do{"n": session.Next, "": session.Next, "a": session.Again, "s": session.ShutOff, "k": session.Skip, "q": session.Finish}[key]
	if ok {
		return session.Key{Do: do}, true
	}
	if key != "r" {
		return session.Key{}, false
	}
	rest = strings.TrimSpace(rest)
	for _, p := range ports {
		if rest == strings.ToLower(p[1]) || rest == p[0] || rest == strings.TrimPrefix(strings.ToLower(p[1]), "cylinder ") {
			return session.Key{Do: session.Refile, Port: p[0]}, true
		}
	}
	return session.Key{}, false
}

// sessionEnded waits for the last readings and says what was filed.
func (a *App) sessionEnded(ctx context.Context, l *live, sheets *web.Server, reader web.LiveReader) error {
	r := l.current.Load()
	waiting, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	await(waiting, func() bool { return r.estimate.idle() && r.filer.idle() })
	s, _ := sheets.LiveScreen(ctx, reader.Take())
	for _, w := range s.Checks {
		fmt.Fprintln(a.Stdout, w+".")
	}
	for i := len(s.Filed) - 1; i >= 0; i-- {
		fmt.Fprintln(a.Stdout, s.Filed[i]+".")
	}
	if s.Trouble != "" {
		return errors.New(s.Trouble)
	}
	return nil
}
