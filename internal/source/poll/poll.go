// Package poll asks a web address for the figure again and again: boards and
// converters that serve it as JSON or as text.
//
// Start with [HTTP].
package poll

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"net/http"
	"net/url"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
	"seatproof/unit"
)

// HTTP is a web address that is asked again and again.
func HTTP() source.Kind { return kind("http") }

// HTTPS is the same behind TLS.
func HTTPS() source.Kind { return kind("https") }

func kind(name string) source.Kind {
	return source.Kind{
		Name:    name,
		Words:   "a web address that answers with the figure (" + map[string]string{"http": "HTTP", "https": "HTTPS"}[name] + "), asked again and again",
		Page:    "docs/sources/http.md",
		Example: name + "://192.168.4.1/now#path=vacuum,unit=kPa,reads=vacuum,every=200 ms",
		Options: lines.Options(
			source.Option{Key: "path", Words: "way to the figure in a JSON answer", Hint: "as in path=sensors[0].kpa; the same as value"},
			source.Option{Key: "every", Words: "how often to ask", Default: "500 ms", Hint: "as in every=200 ms"},
			source.Option{Key: "timeout", Words: "how long an answer may take", Default: "3 s", Hint: "as in timeout=1 s"},
			source.Option{Key: "user", Words: "user name"},
			source.Option{Key: "password", Words: "password", Secret: true},
			source.Option{Key: "token", Words: "bearer token", Secret: true},
		),
		Open: open,
	}
}

// mostBody is how long an answer may be.
const mostBody = 64 << 10

func open(a source.Address) (source.Source, error) {
	fault := func(key, what, hint string, err error) (source.Source, error) {
		return nil, &source.Fault{Source: a.Bare(), Key: key, What: what, Hint: hint, Err: err}
	}
	u, err := url.Parse(a.Kind + ":" + a.Place)
	if err != nil || u.Host == "" {
		return fault("", "is no web address", "as in http://192.168.4.1/now", nil) // the error would repeat what may be secret
	}
	w := &web{url: u, bare: a.Bare(), user: a.Options["user"], password: a.Options["password"], token: a.Options["token"], timeout: 3 * time.Second}
	if w.every, err = lines.Every(a, 500*time.Millisecond); err != nil {
		return nil, err
	}
	if text, ok := a.Options["timeout"]; ok {
		q, err := unit.ParseIn(text, unit.TimeDim, "s")
		if err != nil || !(q.Value >= 0.05 && q.Value <= 120) {
			return fault("timeout", "is no time between 50 ms and 2 min", "as in timeout=1 s", err)
		}
		w.timeout = time.Duration(q.Value * float64(time.Second))
	}
	if path, ok := a.Options["path"]; ok {
		if _, both := a.Options["value"]; both {
			return fault("path", "is said beside value", "keep one", nil)
		}
		a.Options = maps.Clone(a.Options)
		a.Options["value"] = path
		delete(a.Options, "path")
	}
	return lines.New(a, w)
}

type web struct {
	url                   *url.URL
	bare                  string
	user, password, token string
	every, timeout        time.Duration
}

// Asks says how often it asks.
func (w *web) Asks() time.Duration { return w.every }

// Carry asks until ctx ends.
func (w *web) Carry(ctx context.Context, in *lines.Inlet) error {
	transport := &http.Transport{
		Proxy:               http.ProxyFromEnvironment,
		DialContext:         (&net.Dialer{Timeout: w.timeout}).DialContext,
		MaxIdleConnsPerHost: 1,
	}
	defer transport.CloseIdleConnections()
	client := &http.Client{Transport: transport, Timeout: w.timeout}
	tick := time.NewTicker(w.every)
	defer tick.Stop()
	connected, told := false, ""
	for {
		body, err := w.ask(ctx, client)
		switch {
		case ctx.Err() != nil:
			return nil
		case err == nil:
			if !connected {
				in.Opened(w.url.Host, true)
			}
			connected, told = true, ""
			in.Packet(body)
		default:
			var f *source.Fault
			if errors.As(err, &f) {
				return f
			}
			if why := err.Error(); connected || why != told {
				in.Tell(source.Lost, why)
				told = why
			}
			connected = false
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

// ask asks once. The error is a *source.Fault where asking again is of no use.
func (w *web) ask(ctx context.Context, client *http.Client) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, w.url.String(), nil)
	if err != nil {
		return nil, &source.Fault{Source: w.bare, What: "is no web address", Hint: "as in http://192.168.4.1/now"}
	}
	req.Header.Set("Accept", "application/json, text/plain;q=0.9, */*;q=0.1")
	if w.user != "" || w.password != "" {
		req.SetBasicAuth(w.user, w.password)
	}
	if w.token != "" {
		req.Header.Set("Authorization", "Bearer "+w.token)
	}
	resp, err := client.Do(req)
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			if u.Timeout() {
				return nil, fmt.Errorf("%s gave no answer within %g s", w.url.Host, w.timeout.Seconds())
			}
			err = u.Err // without the address, which may hold what is secret
		}
		return nil, err
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(io.LimitReader(resp.Body, mostBody+1))
	switch {
	case resp.StatusCode == http.StatusUnauthorized || resp.StatusCode == http.StatusForbidden:
		return nil, &source.Fault{Source: w.bare, What: "answered " + resp.Status, Hint: "say user and password, or token"}
	case resp.StatusCode != http.StatusOK:
		return nil, fmt.Errorf("%s answered %s", w.url.Host, resp.Status)
	case err != nil:
		return nil, fmt.Errorf("%s broke off its answer: %w", w.url.Host, err)
	case len(body) > mostBody:
		return nil, fmt.Errorf("%s answered with more than %d KiB: is it the right page?", w.url.Host, mostBody>>10)
	}
	return body, nil
}
