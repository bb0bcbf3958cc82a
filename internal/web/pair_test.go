package web

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/rig"
)

// What other machines may and may not do. The list, each a test below:
//
//	no cookie                  only the page that asks, its style and typeface
//	a made-up cookie           the same
//	wrong code                 refused, tries counted
//	too many tries             the code is void, also the right one
//	old code                   refused after ten minutes
//	a code used before         refused
//	forged Host                refused, paired or not, also on this machine
//	cross-origin POST          refused, paired or not
//	passed on by a proxy       is another machine, also over loopback
//	forgotten device           out, its stream ended
//	an old token               refused after 180 days
//	switched off               the door is shut, a cookie helps no one
//	what the computer decides  switch, code, forget another: not from a phone
//	what is kept               no token, only its hash
//	secure-context headers     not where browsers complain about them

const lanHost = "192.168.1.20:8470"

// lanBed serves a server twice: as this machine and as the local network see it.
type lanBed struct {
	t      *testing.T
	s      *Server
	keeper *Memory
	here   *httptest.Server
	lan    *httptest.Server
	opened bool
	mu     sync.Mutex
	now    time.Time
}

// Open implements [Door].
func (b *lanBed) Open(context.Context) ([]Address, error) {
	b.opened = true
	return []Address{{Host: lanHost, Network: "test0"}}, nil
}

// Shut implements [Door].
func (b *lanBed) Shut() error {
	b.opened = false
	b.lan.CloseClientConnections()
	return nil
}

func (b *lanBed) clock() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.now
}

func (b *lanBed) later(d time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.now = b.now.Add(d)
}

func newLanBed(t *testing.T) *lanBed {
	t.Helper()
	b := &lanBed{t: t, keeper: NewMemory(), now: time.Now()}
	s, err := New(Config{Keeper: b.keeper, Version: "test", Now: b.clock, Door: b, Names: []string{"bench"}, ReadRig: func(string) (rig.Rig, []RigFault) { return rig.Rig{}, nil }, EditRig: func(text string, _ rig.Rig) (string, []RigFault) { return text, nil }})
	if err != nil {
		t.Fatal(err)
	}
	b.s = s
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { s.Run(ctx) })
	h := s.Handler()
	b.here = httptest.NewServer(h)
	b.lan = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.RemoteAddr = "192.168.1.50:50123"
		local := net.Addr(&net.TCPAddr{IP: net.ParseIP("192.168.1.20"), Port: 8470})
		h.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, local)))
	}))
	t.Cleanup(func() { cancel(); running.Wait(); b.lan.CloseClientConnections(); b.here.Close(); b.lan.Close() })
	return b
}

// machine is a browser on another machine; it sends its cookie whatever the Host.
type machine struct {
	b *lanBed
	*http.Client
	token *http.Cookie
}

func (b *lanBed) machine() *machine {
	return &machine{b: b, Client: &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// ask sends a request; head changes it first.
func (m *machine) ask(method, way, body string, head ...func(*http.Request)) *http.Response {
	m.b.t.Helper()
	r, err := http.NewRequest(method, m.b.lan.URL+way, strings.NewReader(body))
	if err != nil {
		m.b.t.Fatal(err)
	}
	r.Host = lanHost
	if strings.HasPrefix(body, "{") {
		r.Header.Set("Content-Type", "application/json")
	} else if body != "" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if m.token != nil {
		r.AddCookie(m.token)
	}
	for _, h := range head {
		h(r)
	}
	res, err := m.Do(r)
	if err != nil {
		m.b.t.Fatalf("%s %s: %v", method, way, err)
	}
	for _, c := range res.Cookies() {
		if c.MaxAge > 0 { // one that is forgotten keeps its token and tries
			m.token = c
		}
	}
	m.b.t.Cleanup(func() { res.Body.Close() })
	return res
}

func (m *machine) must(status int, method, way, body string, head ...func(*http.Request)) string {
	m.b.t.Helper()
	res := m.ask(method, way, body, head...)
	b, _ := io.ReadAll(res.Body)
	if res.StatusCode != status {
		m.b.t.Errorf("%s %s: status %d, want %d: %.200s", method, way, res.StatusCode, status, b)
	}
	return string(b)
}

func (m *machine) pairs(code string) *http.Response {
	return m.ask("POST", "/pair", url.Values{"code": {code}, "name": {"test phone"}}.Encode())
}

// atHere speaks to the API as the sheets on this machine do.
func (b *lanBed) atHere(method, way, body string) map[string]any {
	b.t.Helper()
	r, _ := http.NewRequest(method, b.here.URL+"/api/"+way, strings.NewReader(body))
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer res.Body.Close()
	var out map[string]any
	if err := json.NewDecoder(res.Body).Decode(&out); err != nil {
		b.t.Fatal(err)
	}
	out["status"] = res.StatusCode
	return out
}

// on switches on and returns the code that the sheet shows.
func (b *lanBed) on() string {
	b.t.Helper()
	return codeOf(b.t, b.atHere("POST", "phone", `{"on": true}`))
}

func codeOf(t *testing.T, answer map[string]any) string {
	t.Helper()
	c, ok := answer["code"].(map[string]any)
	if !ok {
		t.Fatalf("no code in %v", answer)
	}
	return strings.ReplaceAll(c["text"].(string), " ", "")
}

func otherThan(code string) string {
	if code == "111111" {
		return "222222"
	}
	return "111111"
}

// paired returns a machine that was let in.
func (b *lanBed) paired() *machine {
	b.t.Helper()
	m := b.machine()
	if res := m.pairs(b.on()); res.StatusCode != http.StatusSeeOther || res.Header.Get("Location") != "/" {
		b.t.Fatalf("pairing with the right code: %d to %q", res.StatusCode, res.Header.Get("Location"))
	}
	m.must(200, "GET", "/api/heads", "")
	return m
}

// everyWay is every way of the server with its parts filled in.
func everyWay(s *Server) (out [][2]string) {
	for _, p := range s.patterns {
		method, way, ok := strings.Cut(p, " ")
		if !ok {
			method, way = "GET", p
		}
		way = strings.NewReplacer("{$}", "", "{id}", "x", "{port}", "p1", "{what}", "bin", "{name}", "app.js").Replace(way)
		out = append(out, [2]string{method, way})
	}
	return out
}

func TestNoCookieNoWay(t *testing.T) {
	b := newLanBed(t)
	b.on()
	all := everyWay(b.s)
	if len(all) < 30 {
		t.Fatalf("%d ways found: the test looks in the wrong place", len(all))
	}
	made := func(r *http.Request) { r.AddCookie(&http.Cookie{Name: tokenCookie, Value: "made-up"}) }
	for _, way := range all {
		if way[1] == "/pair" || way[1] == "/favicon.ico" {
			continue
		}
		want := http.StatusUnauthorized
		if way[1] == "/" || way[1] == "/status" {
			want = http.StatusSeeOther
		}
		for _, m := range []func(*http.Request){func(*http.Request) {}, made} {
			said := b.machine().must(want, way[0], way[1], "", m)
			if strings.Contains(said, "begin") || strings.Contains(said, "vacuum_unit") {
				t.Errorf("%s %s tells something: %.100s", way[0], way[1], said)
			}
		}
	}
	m := b.machine()
	for _, way := range []string{"/pair", "/assets/app.css", "/assets/b612-400.woff2", "/assets/b612-700.woff2"} {
		m.must(200, "GET", way, "")
	}
	for _, way := range []string{"/assets/app.js", "/assets/../api/heads", "//api/heads", "/pair/../api/heads", "/api/heads/", "/PAIR"} {
		if res := m.ask("GET", way, ""); res.StatusCode == 200 {
			t.Errorf("GET %s without a cookie: 200", way)
		}
	}
}

func TestWrongCodeTooOften(t *testing.T) {
	b := newLanBed(t)
	code := b.on()
	bad := otherThan(code)
	for left := codeTries - 1; left >= 1; left-- {
		res := b.machine().pairs(bad) // each try from another browser: they count together
		said, _ := io.ReadAll(res.Body)
		if res.StatusCode != http.StatusForbidden || len(res.Cookies()) > 0 {
			t.Fatalf("wrong code: %d, cookies %v", res.StatusCode, res.Cookies())
		}
		if want := fmt.Sprint(left, " tries are left"); left > 1 && !strings.Contains(string(said), want) {
			t.Errorf("a wrong code does not say %q", want)
		}
	}
	b.machine().pairs(bad)
	m := b.machine()
	if res := m.pairs(code); res.StatusCode != http.StatusForbidden {
		t.Errorf("the right code after %d wrong ones: %d", codeTries, res.StatusCode)
	}
	m.must(401, "GET", "/api/heads", "")
	if c := b.atHere("GET", "phone", "")["code"]; c != nil {
		t.Errorf("a void code is still shown: %v", c)
	}
	// Nothing that another machine does makes a new one; a person here does.
	if res := m.pairs(codeOf(t, b.atHere("POST", "phone/code", "{}"))); res.StatusCode != http.StatusSeeOther {
		t.Errorf("the next code: %d", res.StatusCode)
	}
}

func TestCodeTakesSpacesNotGuesses(t *testing.T) {
	b := newLanBed(t)
	code := b.on()
	for _, said := range []string{"", code[:5], code + "0", "٠" + code[1:]} {
		if res := b.machine().pairs(said); res.StatusCode != http.StatusForbidden {
			t.Errorf("code %q for %q: %d", said, code, res.StatusCode)
		}
	}
	if res := b.machine().pairs(" " + code[:3] + " " + code[3:]); res.StatusCode != http.StatusSeeOther {
		t.Errorf("a code with the space that the sheet shows: %d", res.StatusCode)
	}
}

func TestOldCode(t *testing.T) {
	b := newLanBed(t)
	code := b.on()
	b.later(codeLives - time.Second)
	if c := b.atHere("GET", "phone", "")["code"]; c == nil {
		t.Error("the code lapsed before its time")
	}
	b.later(time.Second)
	if res := b.machine().pairs(code); res.StatusCode != http.StatusForbidden {
		t.Errorf("a code of ten minutes ago: %d", res.StatusCode)
	}
}

func TestCodePairsOnce(t *testing.T) {
	b := newLanBed(t)
	code := b.on()
	if res := b.machine().pairs(code); res.StatusCode != http.StatusSeeOther {
		t.Fatalf("first: %d", res.StatusCode)
	}
	if res := b.machine().pairs(code); res.StatusCode != http.StatusForbidden {
		t.Errorf("a second device with the same code: %d", res.StatusCode)
	}
}

// Many at once with one code: one of them gets in.
func TestCodePairsOnceAtOnce(t *testing.T) {
	b := newLanBed(t)
	code := b.on()
	var in sync.Map
	var all sync.WaitGroup
	for i := range 8 {
		m := b.machine()
		all.Go(func() {
			if m.pairs(code).StatusCode == http.StatusSeeOther {
				in.Store(i, true)
			}
		})
	}
	all.Wait()
	n := 0
	in.Range(func(any, any) bool { n++; return true })
	if n != 1 {
		t.Errorf("%d devices came in by one code", n)
	}
}

func TestForgedHost(t *testing.T) {
	b := newLanBed(t)
	m := b.paired()
	for host, want := range map[string]int{
		"evil.example": 421, "evil.example:8470": 421, "192.168.1.21:8470": 421, "localhost.evil.example": 421,
		"8.8.8.8": 421, "[fd00::9]:8470": 421, lanHost: 200, "192.168.1.20": 200, "bench:8470": 200, "BENCH.": 200,
	} {
		m.must(want, "GET", "/api/heads", "", func(r *http.Request) { r.Host = host })
	}
	b.machine().must(421, "GET", "/pair", "", func(r *http.Request) { r.Host = "evil.example" })

	// A page of another site that lets its name point here (DNS rebinding).
	for host, want := range map[string]int{"evil.example": 421, "localhost": 200, "LOCALHOST:8470": 200, "127.0.0.1:1": 200, "[::1]:8470": 200, "192.168.1.20": 421} {
		r, _ := http.NewRequest("GET", b.here.URL+"/api/heads", nil)
		r.Host = host
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != want {
			t.Errorf("this machine, Host %s: %d, want %d", host, res.StatusCode, want)
		}
	}
}

func TestCrossOriginPost(t *testing.T) {
	b := newLanBed(t)
	m := b.paired()
	const head = `{"number": "X-1", "layout": {"kind": "inline", "cylinders": 1, "valves": 2}}`
	for _, from := range []string{"http://evil.example", "http://192.168.1.20:9999", "http://192.168.1.21:8470", "null"} {
		m.must(403, "POST", "/api/heads", head, func(r *http.Request) { r.Header.Set("Origin", from) })
	}
	m.must(403, "POST", "/api/heads", head, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") })
	code := codeOf(t, b.atHere("POST", "phone/code", "{}"))
	b.machine().must(403, "POST", "/pair", "code="+code, func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") })
	if docs, err := b.keeper.List(context.Background(), Query{Kind: kindJob}); err != nil || len(docs) > 0 {
		t.Errorf("another site wrote %d heads (%v)", len(docs), err)
	}
	if res := b.machine().pairs(code); res.StatusCode != http.StatusSeeOther {
		t.Errorf("the code was used up by another site: %d", res.StatusCode)
	}
	m.must(200, "PUT", "/api/settings", `{"initials": "AB"}`, func(r *http.Request) { r.Header.Set("Origin", "http://"+lanHost) })
}

func TestPassedOnIsAnotherMachine(t *testing.T) {
	b := newLanBed(t)
	b.on()
	for _, name := range []string{"X-Forwarded-For", "Forwarded", "Via", "X-Real-Ip", "X-Forwarded-Host"} {
		r, _ := http.NewRequest("GET", b.here.URL+"/api/heads", nil)
		r.Header.Set(name, "127.0.0.1")
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != 401 {
			t.Errorf("loopback with %s: %d", name, res.StatusCode)
		}
	}
}

func TestForgottenDevice(t *testing.T) {
	b := newLanBed(t)
	m := b.paired()
	stream := m.ask("GET", "/api/events", "")
	lines := bufio.NewScanner(stream.Body)
	if !lines.Scan() {
		t.Fatal("no stream")
	}
	all := b.atHere("GET", "phone", "")["devices"].([]any)
	if len(all) != 1 || all[0].(map[string]any)["seen"] != "here now" || all[0].(map[string]any)["name"] != "test phone" {
		t.Fatalf("devices: %v", all)
	}
	ended := make(chan struct{})
	go func() {
		for lines.Scan() {
		}
		close(ended)
	}()
	b.atHere("POST", "phone/forget", fmt.Sprintf(`{"id": %q}`, all[0].(map[string]any)["id"]))
	select {
	case <-ended:
	case <-time.After(10 * time.Second):
		t.Error("the stream of a forgotten device stays open")
	}
	m.must(401, "GET", "/api/heads", "")
	m.must(401, "GET", "/api/events", "")
	m.must(303, "GET", "/", "")
	if n := len(b.atHere("GET", "phone", "")["devices"].([]any)); n != 0 {
		t.Errorf("%d devices after forgetting the only one", n)
	}
}

// A phone may leave by itself; the other stays.
func TestPhoneLeaves(t *testing.T) {
	b := newLanBed(t)
	m, other := b.paired(), b.paired()
	var me struct{ Device deviceShown }
	if err := json.Unmarshal([]byte(m.must(200, "GET", "/api/phone", "")), &me); err != nil {
		t.Fatal(err)
	}
	other.must(403, "POST", "/api/phone/forget", fmt.Sprintf(`{"id": %q}`, me.Device.ID))
	m.must(200, "POST", "/api/phone/forget", fmt.Sprintf(`{"id": %q}`, me.Device.ID))
	m.must(401, "GET", "/api/heads", "")
	other.must(200, "GET", "/api/heads", "")
}

func TestOldToken(t *testing.T) {
	b := newLanBed(t)
	m := b.paired()
	b.later((tokenDays - 1) * 24 * time.Hour)
	m.must(200, "GET", "/api/heads", "")
	b.later(48 * time.Hour)
	m.must(401, "GET", "/api/heads", "")
}

func TestSwitchedOff(t *testing.T) {
	b := newLanBed(t)
	b.machine().must(403, "GET", "/pair", "") // off as it comes
	m := b.paired()
	stream := m.ask("GET", "/api/events", "")
	code := codeOf(t, b.atHere("POST", "phone/code", "{}"))
	if b.atHere("POST", "phone", `{"on": false}`)["on"] != false || b.opened {
		t.Fatal("it does not switch off")
	}
	ended := make(chan struct{})
	go func() { _, _ = io.Copy(io.Discard, stream.Body); close(ended) }()
	select {
	case <-ended:
	case <-time.After(10 * time.Second):
		t.Error("a stream outlives the switch")
	}
	m.must(403, "GET", "/api/heads", "")
	m.must(403, "GET", "/", "")
	m.must(403, "GET", "/pair", "")
	if res := b.machine().pairs(code); res.StatusCode != 403 {
		t.Errorf("pairing while it is off: %d", res.StatusCode)
	}
	if st := b.atHere("POST", "phone/code", "{}")["status"]; st != 422 {
		t.Errorf("a code while it is off: %v", st)
	}
	b.on()
	m.must(200, "GET", "/api/heads", "") // paired devices stay paired
	if res := b.machine().pairs(code); res.StatusCode != 403 {
		t.Errorf("the code of before: %d", res.StatusCode)
	}
}

func TestPhoneDecidesNothing(t *testing.T) {
	b := newLanBed(t)
	m := b.paired()
	m.must(403, "POST", "/api/phone", `{"on": false}`)
	m.must(403, "POST", "/api/phone/code", `{}`)
	if !b.opened {
		t.Error("a phone switched it off")
	}
	b.atHere("POST", "phone/code", "{}")
	if said := m.must(200, "GET", "/api/phone", ""); strings.Contains(said, `"code"`) || strings.Contains(said, `"qr"`) || strings.Contains(said, `"sheet_qr"`) {
		t.Errorf("a phone is shown what pairs others: %s", said)
	}
}

func TestWhatIsKept(t *testing.T) {
	b := newLanBed(t)
	m := b.paired()
	token := m.token.Value
	if len(token) < 22 { // 128 bit in base64
		t.Errorf("the token has %d characters", len(token))
	}
	revs, err := b.keeper.History(context.Background(), kindSettings, devicesID)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range revs {
		if strings.Contains(string(d.Body), token) {
			t.Errorf("the token itself is kept: %s", d.Body)
		}
		if !strings.Contains(string(d.Body), hashOf(token)) {
			t.Errorf("its hash is not: %s", d.Body)
		}
	}
}

func TestCookieAndHeaders(t *testing.T) {
	b := newLanBed(t)
	res := b.machine().pairs(b.on())
	c := res.Cookies()
	if len(c) != 1 || !c[0].HttpOnly || c[0].SameSite != http.SameSiteStrictMode || c[0].Path != "/" || c[0].MaxAge <= 0 {
		t.Errorf("cookie: %+v", c)
	}
	if v := res.Header.Get("Cross-Origin-Opener-Policy"); v != "" {
		t.Errorf("over plain HTTP from another machine: Cross-Origin-Opener-Policy %q, which browsers complain about", v)
	}
	if v := res.Header.Get("Content-Security-Policy"); v != policy {
		t.Errorf("Content-Security-Policy %q", v)
	}
	here, err := http.Get(b.here.URL + "/")
	if err != nil {
		t.Fatal(err)
	}
	defer here.Body.Close()
	if v := here.Header.Get("Cross-Origin-Opener-Policy"); v != "same-origin" {
		t.Errorf("on this machine: Cross-Origin-Opener-Policy %q", v)
	}
}

// A server that was started on an address of the network asks others to pair, and
// can't be switched.
func TestOutside(t *testing.T) {
	b := newLanBed(t)
	b.s.Outside = true
	m := b.machine()
	m.must(401, "GET", "/api/heads", "")
	m.must(200, "GET", "/pair", "")
	code, err := b.s.PairingCode()
	if err != nil {
		t.Fatal(err)
	}
	if st := b.atHere("POST", "phone", `{"on": false}`)["status"]; st != 422 {
		t.Errorf("switching what --listen decided: %v", st)
	}
	if res := m.pairs(code); res.StatusCode != http.StatusSeeOther {
		t.Fatalf("pairing: %d", res.StatusCode)
	}
	m.must(200, "GET", "/api/heads", "")
}
