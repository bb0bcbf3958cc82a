package web

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/skip2/go-qrcode"
)

// Door lets other machines of the local network come in. Its methods are safe
// for concurrent use.
type Door interface {
	// Open listens on the private addresses that this machine has now and returns
	// them, the likeliest first; where it is open already it returns the same. An
	// error says why there is none.
	Open(ctx context.Context) ([]Address, error)
	// Shut ends listening and every connection that came in so. Shut when shut does
	// nothing.
	Shut() error
}

// Address is where other machines come in.
type Address struct {
	Host    string // with its port, as it stands in an address: "192.168.1.20:8470"
	Network string // the system's name of the network: "wlan0"
}

// phoneWarning is what plain HTTP on the local network means. It stands before
// the switch.
var phoneWarning = []string{
	"Other machines of this network can then reach seatproof. Each has to be paired once with a code from this sheet; until then it is shown the page that asks for the code and nothing else.",
	"What passes between the phone and this computer is not encrypted. Whoever can listen along on this network can read it, and could act in the phone's name until you forget it here.",
	"Use it at home or on a network of your own, not on one you share with strangers.",
	"A paired phone sees and changes the same records as this computer. Users of their own and encryption come with a shop's server.",
}

// plainWords are what a browser keeps from a page that came over plain HTTP from
// another machine, and the other way there is.
var plainWords = map[string]string{
	"screen":     "The browser can't keep this screen lit here: it does so only at a secure address. Keep the screen lit in the phone's settings, at least a minute.",
	"microphone": "Speaking a note straight into this page needs a secure address. Record it with the phone's own recorder here instead.",
	"camera":     "A live picture needs a secure address. Take a photo with the phone's own camera here instead.",
	"speech":     "Calls aloud work here: by the phone's own voice, else by recorded words.",
}

type addressShown struct {
	URL     string `json:"url"`
	Network string `json:"network"`
	QR      string `json:"qr"`

	Sheet   string `json:"sheet,omitempty"`    // address of the sheet that was asked for, for a phone that is paired
	SheetQR string `json:"sheet_qr,omitempty"` // as a square
}

type codeShown struct {
	Text  string `json:"text"`
	Until int64  `json:"until"`
	Left  int    `json:"left"` // seconds
	Tries int    `json:"tries"`
}

type deviceShown struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	When string `json:"when"`
	Seen string `json:"seen"`
}

func (s *Server) getPhone(w http.ResponseWriter, r *http.Request) error {
	if d, is := guestOf(r); is {
		return s.answer(w, http.StatusOK, map[string]any{"here": false, "plain": r.TLS == nil, "device": s.showDevice(d.device)})
	}
	return s.answerPhone(w, r)
}

func (s *Server) showDevice(d device) deviceShown {
	out := deviceShown{ID: d.ID, Name: d.Name, When: time.UnixMilli(d.At).Format("2 Jan 2006")}
	s.pairing.mu.Lock()
	defer s.pairing.mu.Unlock()
	switch t, seen := s.pairing.seen[d.ID]; {
	case len(s.pairing.visits[d.ID]) > 0:
		out.Seen = "here now"
	case seen:
		out.Seen = "last here at " + t.Format("15:04")
	default:
		out.Seen = "not here since the start"
	}
	return out
}

func (s *Server) answerPhone(w http.ResponseWriter, r *http.Request) error {
	k, err := s.loadDevices(r.Context())
	if err != nil {
		return err
	}
	now := s.Now()
	open := s.pairing.opened()
	code, until, tries := s.pairing.waiting(now)
	all := []addressShown{}
	for _, a := range open {
		to := "http://" + a.Host + "/"
		seen := to
		if code != "" {
			seen = to + "pair?code=" + code
		}
		qr, err := drawQR(seen)
		if err != nil {
			return err
		}
		shown := addressShown{URL: to, Network: a.Network, QR: qr}
		if sheet := r.URL.Query().Get("to"); sheet != "" && len(sheet) < 200 {
			shown.Sheet = to + "#/" + (&url.URL{Path: sheet}).EscapedPath()
			if shown.SheetQR, err = drawQR(shown.Sheet); err != nil {
				return err
			}
		}
		all = append(all, shown)
	}
	paired := []deviceShown{}
	for _, d := range slices.Backward(k.V.Devices) {
		paired = append(paired, s.showDevice(d))
	}
	body := map[string]any{
		"here": true, "can": s.Door != nil && !s.Outside, "on": len(open) > 0, "outside": s.Outside, "warning": phoneWarning,
		"stays":     "It stays on until you switch it off or the program ends: the next start may be on another network. Paired devices stay paired, so a phone needs no new code then.",
		"addresses": all, "code": nil, "devices": paired,
	}
	if code != "" {
		body["code"] = codeShown{code[:3] + " " + code[3:], until.UnixMilli(), int(until.Sub(now).Seconds()), tries}
	}
	return s.answer(w, http.StatusOK, body)
}

// onlyHere is the refusal of what is decided at the computer itself.
func onlyHere(r *http.Request) error {
	if _, is := guestOf(r); is {
		return &Fault{Status: http.StatusForbidden, What: "this is decided at the computer itself", Do: "open the sheet Phone there"}
	}
	return nil
}

func (s *Server) switchPhone(w http.ResponseWriter, r *http.Request) error {
	if err := onlyHere(r); err != nil {
		return err
	}
	var ask struct {
		On bool `json:"on"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	switch {
	case s.Outside:
		return &Fault{What: "the program was started with --listen on an address that others reach", Do: "start it without, then switch here"}
	case s.Door == nil:
		return &Fault{What: "this program can't listen on a network", Do: "start it with seatproof serve"}
	}
	s.switching.Lock()
	defer s.switching.Unlock()
	if !ask.On {
		// Closed to new requests first, then to those under way.
		s.pairing.setOpen(nil)
		if err := s.Door.Shut(); err != nil {
			return err
		}
		s.Log.Info("other machines are let in no more")
		return s.answerPhone(w, r)
	}
	all, err := s.Door.Open(r.Context())
	if err != nil {
		return &Fault{What: "no address of a local network: " + err.Error(), Do: "join the computer to the network that the phone is on, then switch again", cause: err}
	}
	s.pairing.setOpen(all)
	for _, a := range all {
		s.Log.Info("other machines are let in once they are paired", "address", a.Host)
	}
	if _, err := s.pairing.newCode(s.Now()); err != nil {
		return err
	}
	return s.answerPhone(w, r)
}

func (s *Server) newPhoneCode(w http.ResponseWriter, r *http.Request) error {
	if err := onlyHere(r); err != nil {
		return err
	}
	if !s.Outside && len(s.pairing.opened()) == 0 {
		return &Fault{What: "other machines are not let in", Do: "switch it on first"}
	}
	if _, err := s.pairing.newCode(s.Now()); err != nil {
		return err
	}
	return s.answerPhone(w, r)
}

// PairingCode makes a code for whoever started the program with --listen and has
// no sheets open on it.
func (s *Server) PairingCode() (string, error) { return s.pairing.newCode(s.Now()) }

func (s *Server) forgetDevice(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		ID string `json:"id"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	if d, is := guestOf(r); is && d.ID != ask.ID {
		return onlyHere(r)
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	k, err := s.loadDevices(r.Context())
	if err != nil {
		return err
	}
	i := slices.IndexFunc(k.V.Devices, func(d device) bool { return d.ID == ask.ID })
	if i < 0 {
		return ErrNotFound
	}
	name := k.V.Devices[i].Name
	k.V.Devices = slices.Delete(k.V.Devices, i, i+1)
	if _, err := save(r.Context(), s, k, ""); err != nil {
		return err
	}
	s.Log.Info("a device was forgotten", "device", name)
	g, is := guestOf(r)
	s.pairing.expel(ask.ID, g.visit)
	if is {
		http.SetCookie(w, s.cookie("", -1))
		return s.answer(w, http.StatusOK, map[string]any{"here": false})
	}
	return s.answerPhone(w, r)
}

func (s *Server) cookie(token string, age int) *http.Cookie {
	return &http.Cookie{Name: tokenCookie, Value: token, Path: "/", MaxAge: age, HttpOnly: true, SameSite: http.SameSiteStrictMode}
}

type pairPage struct {
	Style, Version, Code, Name, Trouble string
}

// askCode is the page that asks for the code; it needs no script.
func (s *Server) askCode(w http.ResponseWriter, r *http.Request) error {
	if fromHere(r) {
		http.Redirect(w, r, "/#/phone", http.StatusSeeOther)
		return nil
	}
	return s.page(w, "pair.html", pairPage{Style: s.assets.style, Version: s.Version, Code: r.URL.Query().Get("code"), Name: nameOf(r.UserAgent())})
}

// pair takes the code and gives the device its token.
func (s *Server) pair(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		return &Fault{Status: http.StatusBadRequest, What: "the form could not be read", Do: "open the page again"}
	}
	name := strings.TrimSpace(r.PostForm.Get("name"))
	if runes := []rune(name); len(runes) > 40 {
		name = string(runes[:40])
	}
	if name == "" {
		name = nameOf(r.UserAgent())
	}
	again := func(words string) error {
		return s.pageWith(w, http.StatusForbidden, "pair.html", pairPage{Style: s.assets.style, Version: s.Version, Name: name, Trouble: words})
	}
	const anew = "No code is waiting. On the computer open the sheet Phone, make a new code, and type that one."
	switch left, err := s.pairing.take(r.PostForm.Get("code"), s.Now()); {
	case errors.Is(err, errNoCode):
		s.Log.Warn("pairing refused: no code is waiting", "remote", r.RemoteAddr)
		return again(anew)
	case err != nil:
		s.Log.Warn("pairing refused: wrong code", "remote", r.RemoteAddr, "tries_left", left)
		if left == 1 {
			return again("That is not the code. One try is left; then a new code is needed.")
		}
		return again(fmt.Sprintf("That is not the code. %d tries are left; then a new code is needed.", left))
	}
	token, err := newToken()
	if err != nil {
		return err
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	k, err := s.loadDevices(r.Context())
	if err != nil {
		return err
	}
	if len(k.V.Devices) >= mostDevices {
		return again(fmt.Sprintf("%d devices are paired, which is the most. Forget one on the computer, sheet Phone, and make a new code.", mostDevices))
	}
	k.V.Devices = append(k.V.Devices, device{ID: s.NewID(), Name: name, Hash: hashOf(token), At: s.Now().UnixMilli()})
	if _, err := save(r.Context(), s, k, ""); err != nil {
		return err
	}
	s.Log.Info("a device was paired", "device", name, "remote", r.RemoteAddr)
	http.SetCookie(w, s.cookie(token, tokenDays*24*3600))
	w.Header().Set("Cache-Control", "no-store")
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

func newToken() (string, error) {
	b := make([]byte, tokenBytes)
	if _, err := rand.Read(b); err != nil {
		return "", err
	}
	return base64.RawURLEncoding.EncodeToString(b), nil
}

// nameOf guesses what a device is by what its browser says of itself, for the
// list; the person may write another.
func nameOf(agent string) string {
	for _, c := range [][2]string{{"iPhone", "iPhone"}, {"iPad", "iPad"}, {"Android", "Android phone"}, {"Windows", "Windows computer"}, {"Macintosh", "Mac"}, {"Linux", "Linux computer"}} {
		if strings.Contains(agent, c[0]) {
			return c[1]
		}
	}
	return "Phone"
}

// drawQR draws a QR code (ISO/IEC 18004, by the library) as SVG, dark on light in
// every scheme, with the quiet zone of four modules that readers need.
func drawQR(text string) (string, error) {
	q, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return "", err
	}
	grid := q.Bitmap()
	var b strings.Builder
	n := len(grid)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" aria-label="QR code of the address" shape-rendering="crispEdges"><path fill="#fff" d="M0 0H%dV%dH0Z"/><path fill="#000" d="`, n, n, n, n)
	for y, row := range grid {
		for x := 0; x < n; x++ {
			from := x
			for x < n && row[x] {
				x++
			}
			if x > from {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from, y, x-from, x-from)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return b.String(), nil
}
