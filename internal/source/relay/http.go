package relay

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"seatproof/internal/source"
)

func httpKind() Kind {
	return Kind{
		Name: "relay-http", Words: "a relay that is switched by HTTP calls", Page: page,
		Example: "relay-http://192.168.4.30#pump_on=/relay/0?turn=on&timer={seconds},pump_off=/relay/0?turn=off,valve_on=/relay/1?turn=on,valve_off=/relay/1?turn=off",
		Options: slices.Concat(outputOptions("path and query below the address; {seconds} is the longest time the pump may run", map[string]string{
			"_on": "call that switches on %s", "_off": "call that switches off %s",
		}), []source.Option{
			{Key: "method", Words: "method of the calls", Default: "GET", Choice: []string{"GET", "POST", "PUT"}},
			{Key: "answer_on", Words: "what the answer to on contains", Hint: "left out: any answer of success will do"},
			{Key: "answer_off", Words: "what the answer to off contains", Hint: "left out: any answer of success will do"},
		}, common),
		Open: openHTTP,
	}
}

func httpsKind() Kind {
	k := httpKind()
	k.Name, k.Words = "relay-https", k.Words+", by TLS"
	k.Example = strings.Replace(k.Example, "relay-http:", "relay-https:", 1)
	return k
}

type httpDriver struct {
	client  *http.Client
	method  string
	calls   map[Order]string
	answers map[bool]string
}

func openHTTP(a source.Address, s Settings) (Driver, error) {
	fault := func(key, what, hint string) (Driver, error) {
		return nil, &source.Fault{Source: a.Bare(), Key: key, What: what, Hint: hint}
	}
	base, err := url.Parse(strings.TrimPrefix(a.Kind, "relay-") + ":" + a.Place)
	if err != nil || base.Host == "" {
		return fault("", "has no host", "as in relay-http://192.168.4.30")
	}
	d := &httpDriver{
		// A redirect might go anywhere, and an old connection may be dead.
		client: &http.Client{
			Transport:     &http.Transport{DisableKeepAlives: true},
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
		method: cmp.Or(strings.ToUpper(a.Options["method"]), "GET"), calls: map[Order]string{},
		answers: map[bool]string{true: a.Options["answer_on"], false: a.Options["answer_off"]},
	}
	if !slices.Contains([]string{"GET", "POST", "PUT"}, d.method) {
		return fault("method", "is none of GET, POST, PUT", "leave it out")
	}
	commands, err := commandsOf(a, s)
	if err != nil {
		return nil, err
	}
	for o, b := range commands {
		ref, err := url.Parse(string(b))
		if err != nil || ref.Host != "" || ref.Scheme != "" {
			return fault("", fmt.Sprintf("%s is no path below the address", b), "as in pump_on=/relay/0?turn=on")
		}
		d.calls[o] = base.ResolveReference(ref).String()
	}
	return d, nil
}

// Set calls; an answer of success confirms.
func (d *httpDriver) Set(ctx context.Context, o Order) (Result, error) {
	q, err := http.NewRequestWithContext(ctx, d.method, d.calls[o], nil)
	if err != nil {
		return Failed, err
	}
	r, err := d.client.Do(q)
	if err != nil {
		return Failed, err
	}
	defer func() { _ = r.Body.Close() }()
	body, err := io.ReadAll(io.LimitReader(r.Body, 64<<10))
	switch {
	case err != nil:
		return Failed, err
	case r.StatusCode < 200 || r.StatusCode > 299:
		return Failed, fmt.Errorf("the relay answers %s", r.Status)
	case !strings.Contains(string(body), d.answers[o.On]):
		return Failed, fmt.Errorf("the relay's answer lacks %q", d.answers[o.On])
	}
	return Confirmed, nil
}

func (d *httpDriver) Close() error {
	d.client.CloseIdleConnections()
	return nil
}
