package app

import (
	"math"
	"sync"

	"seatproof/internal/session"
	"seatproof/internal/web"
)

const (
	pointWidth = 0.02  // s: faster samples are drawn as means
	shownLast  = 120.0 // s that who joins gets
	mostPoints = 12000 // that wait for a reader
	mostSaid   = 200
)

// liveReader is who watches a run: a box that the run puts into and the reader
// empties. One who does not keep up loses the oldest points, not the newest.
type liveReader struct {
	live *live
	wake chan struct{}

	mu       sync.Mutex
	news     web.LiveNews
	from     float64 // s, of the mean that is filling
	sum, n   float64
	sumTime  float64
	lastTime float64
}

// Join implements [web.Live].
func (l *live) Join() web.LiveReader {
	r := &liveReader{live: l, wake: make(chan struct{}, 1)}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.readers[r] = true
	if run := l.current.Load(); run != nil {
		run.recentInto(r)
	}
	return r
}

// Leave implements [web.LiveReader].
func (r *liveReader) Leave() {
	r.live.mu.Lock()
	defer r.live.mu.Unlock()
	delete(r.live.readers, r)
}

// Wake implements [web.LiveReader].
func (r *liveReader) Wake() <-chan struct{} { return r.wake }

// Take implements [web.LiveReader].
func (r *liveReader) Take() web.LiveNews {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.flush()
	news := r.news
	r.news.Points, r.news.Did, r.news.Looked = nil, nil, nil
	return news
}

func (r *liveReader) flush() {
	if r.n == 0 {
		return
	}
	p := &r.news.Points
	if len(*p) >= mostPoints {
		*p = append((*p)[:0], (*p)[mostPoints/2:]...)
	}
	*p = append(*p, [2]float64{r.sumTime / r.n, r.sum / r.n})
	r.sum, r.sumTime, r.n = 0, 0, 0
}

// points takes samples: times [s] and vacuums [Pa].
func (r *liveReader) points(now float64, at, vacuum []float64) {
	r.mu.Lock()
	r.news.Now = now
	for i, t := range at {
		if r.n > 0 && (t-r.from >= pointWidth-1e-9 || t < r.from) {
			r.flush()
		}
		if r.n == 0 {
			r.from = t
		}
		r.sum += vacuum[i]
		r.sumTime += t
		r.n++
		r.lastTime = math.Max(r.lastTime, t)
	}
	r.mu.Unlock()
	r.poke()
}

// did takes what was said, and the newest answer.
func (r *liveReader) did(now float64, actions []session.Action, looked *web.LiveLooked) {
	r.mu.Lock()
	r.news.Now = now
	r.news.Did = append(r.news.Did, actions...)
	if n := len(r.news.Did); n > mostSaid {
		r.news.Did = r.news.Did[n-mostSaid:]
	}
	if looked != nil {
		r.news.Looked = looked
	}
	r.mu.Unlock()
	r.poke()
}

// anew begins with another run.
func (r *liveReader) anew(run string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.news = web.LiveNews{Run: run}
	r.sum, r.sumTime, r.n, r.lastTime = 0, 0, 0, 0
}

func (r *liveReader) poke() {
	select {
	case r.wake <- struct{}{}:
	default:
	}
}
