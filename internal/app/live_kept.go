package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"time"

	"seatproof/head"
	"seatproof/internal/session"
	"seatproof/internal/session/journal"
	"seatproof/internal/web"
)

const (
	journalName = "journal"
	keptName    = "run.json"
	// goesOn is how long after its last sample a run that was cut short goes on;
	// one of another day is filed and ended.
	goesOn = 12 * time.Hour
)

// keptRun is what stands beside a run's journal: what its plan does not say.
type keptRun struct {
	Version    int             `json:"v"`
	ID         string          `json:"id"`
	Job        string          `json:"job"`
	Number     string          `json:"number"`
	By         string          `json:"by"`
	RigID      string          `json:"rig"`
	Conditions head.Conditions `json:"conditions"`
	Sources    []string        `json:"sources"` // addresses, with what is secret in them: the folder is the person's own
	Practise   *practiceKept   `json:"practise,omitempty"`
	Ended      int64           `json:"ended,omitempty"` // ms since 1970 UTC; 0: it may go on
}

// write puts it into the run's folder, whole or not at all.
func (k keptRun) write(folder string) error {
	b, err := json.MarshalIndent(k, "", "  ")
	if err != nil {
		return err
	}
	name := filepath.Join(folder, keptName)
	f, err := os.OpenFile(name+".new", os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(name+".new", name)
}

func (r *liveRun) markEnded() error {
	if r.live.runs == "" {
		return nil
	}
	r.kept.Ended = time.Now().UnixMilli()
	return r.kept.write(filepath.Join(r.live.runs, r.id))
}

// resume goes on with the run that was cut short, files what was not filed yet,
// and ends those that are too old to go on. It returns once the run is under
// way; what can't be resumed is left where it is and told.
func (l *live) resume(ctx context.Context) {
	if l.runs == "" {
		return
	}
	names, err := filepath.Glob(filepath.Join(l.runs, "*", keptName))
	if err != nil {
		return
	}
	for _, name := range names {
		k, err := readKept(name)
		if err == nil && k.Ended == 0 {
			err = l.resumeOne(ctx, k)
		}
		if err != nil {
			l.log.Error("a run that was cut short can't go on; its journal was left as it is", "journal", filepath.Dir(name), "error", err.Error())
		}
	}
}

func readKept(name string) (k keptRun, err error) {
	b, err := os.ReadFile(name)
	if err != nil {
		return k, err
	}
	if err = json.Unmarshal(b, &k); err == nil && k.Version > 1 {
		err = fmt.Errorf("%s: a newer program wrote it", name)
	}
	return k, err
}

func (l *live) resumeOne(ctx context.Context, k keptRun) error {
	path := filepath.Join(l.runs, k.ID, journalName)
	past, w, cut, err := journal.Resume(path)
	if errors.Is(err, fs.ErrNotExist) {
		k.Ended = time.Now().UnixMilli() // it never began
		return k.write(filepath.Dir(path))
	}
	if err != nil {
		return err
	}
	plan, ok := past.State.Plan()
	if !ok { // cut off before its first event was on disk
		k.Ended = time.Now().UnixMilli()
		return errors.Join(w.Close(), k.write(filepath.Dir(path)))
	}
	l.beginning.Lock()
	defer l.beginning.Unlock()
	r := &liveRun{
		live: l, id: k.ID, began: time.Now(), inbox: make(chan liveInput, 1024), records: map[int]web.LiveRecord{}, filed: map[int]session.FileTest{},
		is:     web.LiveRun{ID: k.ID, Job: k.Job, Number: k.Number, By: k.By, RigID: k.RigID, Practise: k.Practise != nil, Conditions: k.Conditions, Plan: plan},
		kept:   k,
		writer: w,
		state:  past.State,
		drawn:  past.Now,
	}
	r.prepare()
	away := float64(time.Now().UnixMilli()-plan.Started)/1000 - past.Now
	if k.Practise != nil {
		away = 1 // its time is not the day's
	}
	r.base = past.Now + math.Max(away, 0.001)
	old := away > goesOn.Seconds()
	if other := l.current.Load(); other != nil && !old {
		n := other.shown.Load()
		if old = n != nil && n.View.Stage != session.Over; !old {
			other.stop(ctx)
		}
	}
	if k.Practise != nil {
		if err := r.resumePractice(past.State); err != nil {
			return errors.Join(err, w.Close())
		}
	}
	for _, a := range past.Do {
		switch a := a.(type) {
		case session.FileTest:
			r.file(a)
		case session.MoveTest:
			r.filer.add(job{move: &a})
		}
	}
	for _, f := range past.State.View().Filed {
		if t, ok := r.filed[f.Test]; ok && f.Estimate == nil {
			if look, ok := past.State.Look(f.Test, t.Traces[0], t.ShutAt); ok {
				r.estimate.ask(look)
			}
		}
		if f.Estimate != nil {
			r.checked(f.Test)
		}
	}
	r.publish()
	r.handle(session.Resumed{At: r.base, Cut: cut})
	over := past.State.View().Stage == session.Over
	if old && !over {
		r.handle(session.Key{At: r.base, Do: session.Finish})
	}
	if old || over {
		r.pretend = nil
	} else {
		l.current.Store(r)
		for i, a := range k.Sources {
			if k.Practise == nil {
				r.again(i, a)
			}
		}
	}
	r.start()
	l.log.Info("a run that was cut short goes on", "run", k.ID, "head", k.Number, "torn_bytes", cut, "missing_samples", past.Missing)
	if old || over {
		return r.stop(ctx)
	}
	return nil
}
