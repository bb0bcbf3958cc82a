package web

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"errors"
	"fmt"
	"math/big"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"
)

// What a pairing code and a device's token are worth.
const (
	codeDigits  = 6
	codeLives   = 10 * time.Minute
	codeTries   = 5 // wrong ones, from wherever; then only a person at this machine makes another
	mostDevices = 20
	tokenBytes  = 32 // 256 bit
	tokenDays   = 180
	tokenCookie = "seatproof"
	devicesID   = "devices" // record of kind settings
)

// device is a machine that was paired. Its token is in its browser alone.
type device struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Hash string `json:"hash"` // SHA-256 of the token, in hexadecimal
	At   int64  `json:"at"`   // ms since 1970 UTC, when it was paired
}

// devices are all of them, as they are kept.
type devices struct {
	Devices []device `json:"devices"`
}

// pairing knows the code of the moment and what each device has open. Its lock
// is never held while the records are read or written.
type pairing struct {
	mu     sync.Mutex
	code   string // "": none waits
	until  time.Time
	wrong  int // tries against this code
	open   []Address
	visits map[string]map[*visit]bool // by device
	seen   map[string]time.Time       // by device, since the start
}

// visit is a request of a device that is under way.
type visit struct {
	cancel context.CancelFunc
	out    *http.ResponseController
}

// end lets go of a request: a stream ends by itself, and one that waits for its
// reader or writer has a second.
func (v *visit) end() {
	v.cancel()
	soon := time.Now().Add(time.Second)
	_ = v.out.SetReadDeadline(soon) // not every writer has one
	_ = v.out.SetWriteDeadline(soon)
}

func newPairing() *pairing {
	return &pairing{visits: map[string]map[*visit]bool{}, seen: map[string]time.Time{}}
}

// newCode makes a code that is good for [codeLives] and one device.
func (p *pairing) newCode(now time.Time) (string, error) {
	n, err := rand.Int(rand.Reader, big.NewInt(1_000_000))
	if err != nil {
		return "", err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.code, p.until, p.wrong = fmt.Sprintf("%0*d", codeDigits, n), now.Add(codeLives), 0
	return p.code, nil
}

// waiting returns the code that would be taken now, "" for none.
func (p *pairing) waiting(now time.Time) (code string, until time.Time, tries int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.code == "" || !now.Before(p.until) {
		return "", time.Time{}, 0
	}
	return p.code, p.until, codeTries - p.wrong
}

// Why a code was not taken.
var (
	errNoCode    = errors.New("no code waits")
	errWrongCode = errors.New("wrong code")
)

// take uses the code up, or counts a wrong try against it. A code that was tried
// too often is void, and says no more than one that never was.
func (p *pairing) take(said string, now time.Time) (left int, err error) {
	digits := strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, said)
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.code == "" || !now.Before(p.until) {
		p.code = ""
		return 0, errNoCode
	}
	// Hashes are of one length, so that the time tells nothing of the code's.
	a, b := sha256.Sum256([]byte(digits)), sha256.Sum256([]byte(p.code))
	if subtle.ConstantTimeCompare(a[:], b[:]) == 1 {
		p.code = ""
		return 0, nil
	}
	p.wrong++
	if p.wrong >= codeTries {
		p.code = ""
		return 0, errNoCode
	}
	return codeTries - p.wrong, errWrongCode
}

// enter notes that a device's request is under way.
func (p *pairing) enter(id string, v *visit, now time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.visits[id] == nil {
		p.visits[id] = map[*visit]bool{}
	}
	p.visits[id][v] = true
	p.seen[id] = now
}

func (p *pairing) leave(id string, v *visit) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.visits[id], v)
	if len(p.visits[id]) == 0 {
		delete(p.visits, id)
	}
}

// expel ends all that a device has under way, but for one request: the one that
// asked for it still gets its answer.
func (p *pairing) expel(id string, but *visit) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for v := range p.visits[id] {
		if v != but {
			v.end()
		}
	}
	delete(p.seen, id)
}

// opened returns the addresses at which other machines come in; none: shut.
func (p *pairing) opened() []Address {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.open)
}

func (p *pairing) setOpen(all []Address) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.open = slices.Clone(all)
	if len(all) == 0 {
		p.code = ""
	}
}

func (s *Server) loadDevices(ctx context.Context) (kept[devices], error) {
	k, err := load[devices](ctx, s.Keeper, kindSettings, devicesID)
	if errors.Is(err, ErrNotFound) {
		return kept[devices]{Doc: Doc{Kind: kindSettings, ID: devicesID}, V: devices{Devices: []device{}}}, nil
	}
	return k, err
}

func hashOf(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// bearer returns the device whose token a request carries.
func (s *Server) bearer(r *http.Request) (device, bool, error) {
	tokens := r.CookiesNamed(tokenCookie)
	if len(tokens) == 0 {
		return device{}, false, nil
	}
	k, err := s.loadDevices(r.Context())
	if err != nil {
		return device{}, false, err
	}
	var found device
	ok := false
	for _, c := range tokens {
		h := []byte(hashOf(c.Value))
		for _, d := range k.V.Devices { // all of them, whichever it is
			if subtle.ConstantTimeCompare(h, []byte(d.Hash)) == 1 {
				found, ok = d, true
			}
		}
	}
	if ok && s.Now().After(time.UnixMilli(found.At).AddDate(0, 0, tokenDays)) {
		ok = false
	}
	return found, ok, nil
}

// guest is a paired device with the request it makes.
type guest struct {
	device
	visit *visit
}

type guestKey struct{}

// guestOf returns the paired device that a request comes from; false: it comes
// from this machine.
func guestOf(r *http.Request) (guest, bool) {
	g, ok := r.Context().Value(guestKey{}).(guest)
	return g, ok
}

// fromHere says whether a request comes from a program on this machine: both
// ends are loopback, and nobody says to have passed it on.
func fromHere(r *http.Request) bool {
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-Ip", "Via"} {
		if r.Header.Get(name) != "" {
			return false
		}
	}
	remote, err := netip.ParseAddrPort(r.RemoteAddr)
	return err == nil && remote.Addr().Unmap().IsLoopback() && localOf(r).IsLoopback()
}

// localOf is the address of this machine that a request came to; the zero value
// where it is not known.
func localOf(r *http.Request) netip.Addr {
	a, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return netip.Addr{}
	}
	p, err := netip.ParseAddrPort(a.String())
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr().Unmap().WithZone("")
}

// knownHost says whether a request names this machine: a name that another site
// lets point here (DNS rebinding) is none of ours.
func (s *Server) knownHost(r *http.Request) bool {
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.TrimSuffix(strings.ToLower(strings.Trim(host, "[]")), ".")
	if a, err := netip.ParseAddr(host); err == nil {
		a = a.Unmap().WithZone("")
		return a.IsLoopback() || a == localOf(r)
	}
	return host == "localhost" || host != "" && slices.Contains(s.Names, host)
}

// openToAll are the ways that a machine may take before it is paired: the page
// that asks for the code, its style and typeface.
var openToAll = []string{"GET /pair", "POST /pair", "GET /assets/app.css", "GET /assets/b612-400.woff2", "GET /assets/b612-700.woff2", "GET /favicon.ico"}

// door lets a request in or not: from this machine, or from a device that is paired.
func (s *Server) door(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case !s.knownHost(r):
			s.fail(w, r, &Fault{Status: http.StatusMisdirectedRequest, What: "this address is not known here", Do: "use the address that the sheet Phone shows"})
		case fromHere(r):
			next.ServeHTTP(w, r)
		case !s.Outside && len(s.pairing.opened()) == 0:
			s.fail(w, r, &Fault{Status: http.StatusForbidden, What: "other machines are not let in", Do: "switch it on at the computer, sheet Phone"})
		case slices.Contains(openToAll, r.Method+" "+r.URL.Path):
			next.ServeHTTP(w, r)
		default:
			s.admit(w, r, next)
		}
	})
}

// admit serves a paired device, and shows any other the page that asks for the
// code. The request is noted before the device is looked up: one that is forgotten
// meanwhile either is not found or is ended.
func (s *Server) admit(w http.ResponseWriter, r *http.Request, next http.Handler) {
	d, ok, err := s.bearer(r)
	if err == nil && ok {
		ctx, cancel := context.WithCancel(r.Context())
		defer cancel()
		v := &visit{cancel, http.NewResponseController(w)}
		s.pairing.enter(d.ID, v, s.Now())
		defer s.pairing.leave(d.ID, v)
		if _, ok, err = s.bearer(r); err == nil && ok {
			next.ServeHTTP(w, r.WithContext(context.WithValue(ctx, guestKey{}, guest{d, v})))
			return
		}
	}
	switch {
	case err != nil:
		s.fail(w, r, err)
	case r.Method == http.MethodGet && (r.URL.Path == "/" || r.URL.Path == "/status"):
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, "/pair", http.StatusSeeOther)
	default:
		s.fail(w, r, &Fault{Status: http.StatusUnauthorized, What: "this device is not paired", Do: "open /pair on it and type the code that the computer shows"})
	}
}
