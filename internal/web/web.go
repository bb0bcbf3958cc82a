// Package web is the server of the sheets: one JSON API with a stream of
// changes, the sheets themselves, and pages that work without script.
//
// Start with [New], which takes a [Keeper] (who keeps the records) and gives an
// http.Handler. Handlers return errors; one wrapper chooses status and words.
// What the API takes and gives is docs/api.md; one file a subject. Units, errors
// and verdict words come from here: the sheets have none of their own.
package web

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"seatproof/check"
	"seatproof/crosscheck"
	"seatproof/engine"
	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/rig"
)

// Config is what a server is built from.
type Config struct {
	Keeper  Keeper
	Log     *slog.Logger
	Version string
	// Estimator names what computes the readings; one kept under another name is
	// computed again. "" stands for Version.
	Estimator string
	Now       func() time.Time
	NewID     func() string

	Live Live // nil: no tests are run from the sheets

	Archive Archiver // nil: heads can't be exported or imported

	Door    Door     // nil: no other machine can be let in from the sheets
	Outside bool     // the server itself listens where other machines reach it
	Names   []string // of this machine, in small letters, that a request may name it by

	// ReadRig reads a rig file; faults say where it is wrong. EditRig changes one so
	// that it reads as a rig, and leaves all else in it as it stands.
	ReadRig func(text string) (rig.Rig, []RigFault)
	EditRig func(text string, r rig.Rig) (string, []RigFault)

	// ReadParts reads a parts list out of a form: of each kind of part its items, of
	// each its keys with their texts. A fault's key names list, item and key:
	// "pump.0.free_flow". nil: rigs can't be chosen from the sheets.
	ReadParts func(form map[string][]map[string]string) (check.Parts, []RigFault)
}

// RigFault is one thing wrong with a rig file.
type RigFault struct {
	Line, Column int
	Key          string // dotted; "" for the file
	Problem      string
}

// Server answers the API and serves the sheets. It is safe for concurrent use.
type Server struct {
	Config
	mux      *http.ServeMux
	patterns []string // of mux
	hub      *hub
	readings *readings
	cards    cards
	walls    memo[*check.Card]
	losses   memo[*report.Loss]
	pooled   *pooled
	shrinks  memo[*leak.Reading]
	cranked  memo[crosscheck.CrankingForecast]
	costs    memo[engine.CostLimit]
	assets   *assets
	writing  sync.Mutex // settings are read, changed and written back

	pairing   *pairing
	switching sync.Mutex // the door is opened and shut by one at a time
}

// New returns a server. Call [Server.Run] to let changes flow, and hand
// [Server.Handler] to an http.Server.
func New(c Config) (*Server, error) {
	switch {
	case c.Keeper == nil, c.ReadRig == nil, c.EditRig == nil:
		return nil, errors.New("web: Keeper, ReadRig and EditRig are needed")
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Estimator == "" {
		c.Estimator = c.Version
	}
	if c.NewID == nil {
		c.NewID = newID
	}
	a, err := newAssets()
	if err != nil {
		return nil, err
	}
	s := &Server{Config: c, mux: http.NewServeMux(), hub: newHub(c.Keeper), readings: newReadings(), walls: memo[*check.Card]{most: 32}, losses: memo[*report.Loss]{most: 64}, shrinks: memo[*leak.Reading]{most: 200}, cranked: memo[crosscheck.CrankingForecast]{most: 100}, costs: memo[engine.CostLimit]{most: 500}, pooled: newPooled(), cards: cards{made: map[string]madeCard{}}, assets: a, pairing: newPairing()}
	s.routes()
	return s, nil
}

// Run watches the keeper for changes until ctx ends, and then ends every stream.
func (s *Server) Run(ctx context.Context) { s.hub.run(ctx) }

// Handler is the whole server: the API, the sheets, and what guards them.
func (s *Server) Handler() http.Handler {
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, &Fault{Status: http.StatusForbidden, What: "this request comes from another site", Do: "use the sheets at this program's own address"})
	}))
	return s.headers(s.door(guard.Handler(s.mux)))
}

// policy lets a page load from this server only, and run no script but its own.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (s *Server) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		// Not no-referrer: the form of the pairing page would name no origin then, and be refused.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		// Browsers heed it at a secure address only, and complain elsewhere.
		if r.TLS != nil || fromHere(r) {
			h.Set("Cross-Origin-Opener-Policy", "same-origin")
		}
		next.ServeHTTP(w, r)
	})
}

func (s *Server) routes() {
	for pattern, h := range map[string]handler{
		"GET /api/words":                   s.getWords,
		"GET /api/settings":                s.getSettings,
		"PUT /api/settings":                s.putSettings,
		"GET /api/heads":                   s.listHeads,
		"POST /api/heads":                  s.addHead,
		"POST /api/layout":                 s.drawLayout,
		"GET /api/heads/{id}":              s.getHead,
		"PUT /api/heads/{id}":              s.putHead,
		"GET /api/heads/{id}/card":         s.getCard,
		"GET /api/heads/{id}/history":      s.headHistory,
		"GET /api/heads/{id}/plan":         s.getPlan,
		"GET /api/heads/{id}/ports/{port}": s.getPort,
		"GET /api/heads/{id}/crosscheck":   s.getOther,
		"POST /api/heads/{id}/crosscheck":  s.addObserved,
		"PUT /api/observed/{id}":           s.putObserved,
		"POST /api/observed/{id}/{what}":   s.binObserved,
		"GET /api/heads/{id}/loss":         s.getLoss,
		"GET /api/heads/{id}/export":       s.exportHead,
		"GET /api/heads/{id}/table.csv":    s.getTable(Table.WriteCSV, ".csv", "text/csv; charset=utf-8; header=present"),
		"GET /api/heads/{id}/table.xlsx":   s.getTable(Table.WriteXLSX, ".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
		"POST /api/heads/import":           s.importHead,
		"POST /api/heads/{id}/{what}":      s.binHead,
		"GET /api/heads/{id}/work":         s.listWork,
		"POST /api/heads/{id}/work":        s.addWork,
		"GET /api/heads/{id}/pictures":     s.listPictures,
		"POST /api/heads/{id}/pictures":    s.addPicture,
		"GET /api/rigs":                    s.listRigs,
		"POST /api/rigs":                   s.addRig,
		"GET /api/rigs/{id}":               s.getRig,
		"GET /api/rigs/{id}/card":          s.getWallCard,
		"GET /api/rigs/{id}/card.pdf":      s.getWallPDF,
		"GET /api/rigs/{id}/faults":        s.getFaults,
		"PUT /api/rigs/{id}":               s.putRig,
		"POST /api/rigs/{id}/checks":       s.addCheck,
		"GET /api/choose":                  s.askChoose,
		"POST /api/choose":                 s.choose,
		"GET /api/rigs/{id}/check":         s.getCheck,
		"POST /api/rigs/practice":          s.addPractice,
		"POST /api/rigs/{id}/check/{step}": s.doCheck,
		"POST /api/rigs/{id}/parts":        s.changePart,
		"PUT /api/checks/{id}":             s.putCheck,
		"GET /api/tests":                   s.listTests,
		"POST /api/tests":                  s.addTest,
		"GET /api/tests/{id}":              s.getTest,
		"PUT /api/tests/{id}":              s.putTest,
		"GET /api/tests/{id}/history":      s.testHistory,
		"POST /api/tests/{id}/move":        s.moveTest,
		"POST /api/tests/{id}/{what}":      s.binTest,
		"GET /api/tests/{id}/file":         s.testFile,
		"POST /api/preview":                s.preview,
		"GET /api/blobs/{id}":              s.getBlob,
		"GET /api/events":                  s.events,
		"GET /api/live":                    s.getLive,
		"POST /api/live":                   s.beginLive,
		"POST /api/live/key":               s.keyLive,
		"POST /api/live/relay":             s.switchLive,
		"GET /api/live/events":             s.liveEvents,
		"GET /api/phone":                   s.getPhone,
		"POST /api/phone":                  s.switchPhone,
		"POST /api/phone/code":             s.newPhoneCode,
		"POST /api/phone/forget":           s.forgetDevice,
		"GET /pair":                        s.askCode,
		"POST /pair":                       s.pair,
		"/api/":                            s.noSuchWay,
		"GET /assets/{name}":               s.assets.serve,
		"GET /status":                      s.statusPage,
		"GET /{$}":                         s.shell,
		"GET /favicon.ico":                 s.noIcon,
	} {
		s.mux.Handle(pattern, s.wrap(h))
		s.patterns = append(s.patterns, pattern)
	}
}
