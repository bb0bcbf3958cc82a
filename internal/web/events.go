package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"
)

const (
	watchEvery    = 2 * time.Second  // for changes that another program made
	aliveEvery    = 20 * time.Second // a comment line keeps a stream open
	writePatience = 10 * time.Second // for a reader to take what it is sent
	behind        = 256              // changes a reader may lag before it is cut off
)

// hub tells every stream of every change. A reader who can't keep up is cut
// off: it comes back with the number of the last change it saw.
type hub struct {
	keeper Keeper
	pokes  chan struct{}

	mu      sync.Mutex
	seq     int64
	readers map[chan Change]bool
	streams map[chan struct{}]bool // others that end with it
	closed  bool
}

func newHub(k Keeper) *hub {
	return &hub{keeper: k, pokes: make(chan struct{}, 1), readers: map[chan Change]bool{}, streams: map[chan struct{}]bool{}}
}

// poke says that something changed.
func (h *hub) poke() {
	select {
	case h.pokes <- struct{}{}:
	default:
	}
}

// run passes changes on until ctx ends, then ends every stream.
func (h *hub) run(ctx context.Context) {
	tick := time.NewTicker(watchEvery)
	defer tick.Stop()
	h.look(ctx)
	for {
		select {
		case <-ctx.Done():
			h.mu.Lock()
			h.closed = true
			for r := range h.readers {
				h.drop(r)
			}
			for c := range h.streams {
				close(c)
				delete(h.streams, c)
			}
			h.mu.Unlock()
			return
		case <-tick.C:
		case <-h.pokes:
		}
		h.look(ctx)
	}
}

// look asks for what changed since the last one and passes it on.
func (h *hub) look(ctx context.Context) {
	for {
		h.mu.Lock()
		seq := h.seq
		h.mu.Unlock()
		changes, err := h.keeper.Since(ctx, seq)
		if err != nil || len(changes) == 0 {
			return
		}
		h.mu.Lock()
		for _, c := range changes {
			if c.Seq <= h.seq {
				continue
			}
			h.seq = c.Seq
			for r := range h.readers {
				select {
				case r <- c:
				default:
					h.drop(r)
				}
			}
		}
		h.mu.Unlock()
	}
}

// shout passes on a change of what is not kept: it has no number, and who is not
// there does not learn of it.
func (h *hub) shout(c Change) {
	h.mu.Lock()
	defer h.mu.Unlock()
	c.Seq = 0
	for r := range h.readers {
		select {
		case r <- c:
		default:
			h.drop(r)
		}
	}
}

// TellLive tells the sheets that a run began, went on to another port or ended.
func (s *Server) TellLive() { s.hub.shout(Change{Kind: "live"}) }

// liveStream returns a channel that is closed when the server ends its streams,
// and how to leave it.
func (s *Server) liveStream() (ended <-chan struct{}, leave func()) {
	h := s.hub
	h.mu.Lock()
	defer h.mu.Unlock()
	c := make(chan struct{})
	if h.closed {
		close(c)
		return c, func() {}
	}
	h.streams[c] = true
	return c, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.streams, c)
	}
}

// drop ends a reader; the lock is held.
func (h *hub) drop(r chan Change) {
	if h.readers[r] {
		delete(h.readers, r)
		close(r)
	}
}

// join returns a channel of changes from now on, and the number of the last one.
// It is closed when the reader lags, or the hub ends.
func (h *hub) join() (chan Change, int64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	r := make(chan Change, behind)
	if h.closed {
		close(r)
		return r, h.seq
	}
	h.readers[r] = true
	return r, h.seq
}

// last is the number of the last change that was passed on.
func (h *hub) last() int64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.seq
}

func (h *hub) leave(r chan Change) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.drop(r)
}

// events streams changes.
func (s *Server) events(w http.ResponseWriter, r *http.Request) error {
	out := http.NewResponseController(w)
	from := int64(-1)
	for _, text := range []string{r.Header.Get("Last-Event-ID"), r.URL.Query().Get("since")} {
		if text == "" {
			continue
		}
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 0 {
			return &Fault{Status: http.StatusBadRequest, What: "since is no number of a change: " + strconv.Quote(text), Where: "since"}
		}
		from = n
		break
	}
	changes, seq := s.hub.join()
	defer s.hub.leave(changes)
	if from < 0 {
		from = seq
	}
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no")
	ctx := r.Context()
	tell := func(c Change) error {
		if c.Seq > 0 && c.Seq <= from {
			return nil
		}
		b, err := json.Marshal(c)
		if err != nil {
			return err
		}
		// The last one may be long past, and a write after it breaks the stream. Not
		// every writer has one.
		_ = out.SetWriteDeadline(time.Now().Add(writePatience))
		if c.Seq == 0 { // of nothing that is kept
			_, err = fmt.Fprintf(w, "event: change\ndata: %s\n\n", b)
			return err
		}
		from = c.Seq
		_, err = fmt.Fprintf(w, "id: %d\nevent: change\ndata: %s\n\n", c.Seq, b)
		return err
	}
	if _, err := fmt.Fprintf(w, "retry: 1000\nevent: hello\ndata: {\"seq\": %d}\n\n", from); err != nil {
		return nil
	}
	for {
		missed, err := s.Keeper.Since(ctx, from)
		if err != nil || len(missed) == 0 {
			break
		}
		for _, c := range missed {
			if tell(c) != nil {
				return nil
			}
		}
	}
	if out.Flush() != nil {
		return nil
	}
	alive := time.NewTicker(aliveEvery)
	defer alive.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case c, ok := <-changes:
			if !ok || tell(c) != nil {
				return nil
			}
		case <-alive.C:
			_ = out.SetWriteDeadline(time.Now().Add(writePatience))
			if _, err := fmt.Fprint(w, ": still here\n\n"); err != nil {
				return nil
			}
		}
		if out.Flush() != nil {
			return nil
		}
	}
}
