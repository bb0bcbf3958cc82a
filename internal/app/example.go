package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// bookInExample books an example head in through the API, as any program could,
// where no head of its number is there yet, and returns its identity. The folder
// is that of the command demo: ports.csv, rig.toml and the recordings. One port
// is left with work done since its test, so that every state can be seen.
func bookInExample(ctx context.Context, address, folder string) (string, error) {
	h, err := readHead(os.DirFS(folder))
	if err != nil {
		return "", err
	}
	c := client{ctx, address}
	var there struct {
		Heads []struct{ ID, Number string }
	}
	if err := c.call("GET", "api/heads", nil, &there); err != nil {
		return "", err
	}
	for _, x := range there.Heads {
		if x.Number == h.number {
			return x.ID, nil
		}
	}
	rigText, err := os.ReadFile(filepath.Join(folder, "rig.toml"))
	if err != nil {
		return "", err
	}
	var rig struct {
		Rig struct{ ID string }
	}
	if err := c.call("POST", "api/rigs", map[string]any{"name": "Bench rig, small pump", "file": string(rigText)}, &rig); err != nil {
		return "", err
	}
	var head struct {
		Head struct {
			ID    string
			Ports []struct {
				ID, Name string
				Valves   []string
			}
			Valves []struct{ ID, Place string }
		}
	}
	size := func(side string) string {
		for _, p := range h.ports {
			if strings.HasSuffix(p.name, side) {
				return fmt.Sprintf("%g mm", p.diameter*1e3)
			}
		}
		return ""
	}
	err = c.call("POST", "api/heads", map[string]any{
		"number": h.number, "title": h.title, "invented": true, "rig": rig.Rig.ID, "initials": "EX",
		"layout": map[string]any{"kind": "inline", "cylinders": 3, "valves": 4, "bore": "72 mm", "stroke": "81.8 mm", "intake_head": size("intake"), "exhaust_head": size("exhaust")},
		"lie":    map[string]any{"said": true, "chambers_up": true, "first_left": true, "landmark": "timing chain"},
	}, &head)
	if err != nil {
		return "", err
	}
	id := head.Head.ID
	last := time.Now().UnixMilli()
	file := func(file, name string, places []string) error {
		i := slices.IndexFunc(head.Head.Ports, func(x struct {
			ID, Name string
			Valves   []string
		}) bool {
			return x.Name == name
		})
		if i < 0 {
			return fmt.Errorf("the example has no port %q", name)
		}
		b, err := os.ReadFile(filepath.Join(folder, file))
		if err != nil {
			return err
		}
		var seen struct{ Trace string }
		if err := c.send("api/preview", file, b, &seen); err != nil {
			return err
		}
		last = startedAt(b, last)
		masked := []string{}
		for _, v := range head.Head.Valves {
			if slices.Contains(head.Head.Ports[i].Valves, v.ID) && slices.Contains(places, v.Place) {
				masked = append(masked, v.ID)
			}
		}
		return c.call("POST", "api/tests", map[string]any{
			"job": id, "port": head.Head.Ports[i].ID, "by": "EX", "source": "file", "trace": seen.Trace, "at": last,
			"conditions": map[string]any{"held": "own-spring", "wet_with": "nothing", "guide": "open", "turned": false, "placed": false, "plugged": "yes", "state": "as-found", "masked": masked},
		}, nil)
	}
	for _, p := range h.ports {
		if err := file(p.file, p.name, nil); err != nil {
			return "", fmt.Errorf("ports.csv: %w", err)
		}
	}
	masks, err := readMasks(os.DirFS(folder))
	if err != nil {
		return "", err
	}
	for _, m := range masks {
		if err := file(m.file, m.port, m.masked); err != nil {
			return "", fmt.Errorf("masks.csv: %w", err)
		}
	}
	for _, p := range head.Head.Ports {
		if p.Name == "cylinder 3 exhaust" {
			err = c.call("POST", "api/heads/"+id+"/work", map[string]any{"valves": p.Valves, "kind": "lapped", "by": "EX", "at": last + int64(time.Hour/time.Millisecond)}, nil)
		}
	}
	return id, err
}

// startedAt returns when a recording says that it was started, else other.
func startedAt(b []byte, other int64) int64 {
	for _, l := range strings.Split(string(b), "\n") {
		if t, ok := strings.CutPrefix(l, "# started: "); ok {
			if x, err := time.ParseInLocation("2006-01-02T15:04:05", strings.TrimSpace(t), time.Local); err == nil {
				return x.UnixMilli()
			}
		}
	}
	return other
}

// client speaks to the API.
type client struct {
	ctx     context.Context
	address string
}

func (c client) call(method, way string, body, into any) error {
	var r io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			return err
		}
		r = bytes.NewReader(b)
	}
	return c.do(method, way, "application/json", r, into)
}

// send sends a file as a form.
func (c client) send(way, name string, b []byte, into any) error {
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, err := w.CreateFormFile("file", name)
	if err != nil {
		return err
	}
	if _, err := part.Write(b); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	return c.do("POST", way, w.FormDataContentType(), &form, into)
}

func (c client) do(method, way, kind string, body io.Reader, into any) error {
	req, err := http.NewRequestWithContext(c.ctx, method, c.address+way, body)
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", kind)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		return err
	}
	if res.StatusCode >= 400 {
		var e struct {
			Error struct{ What, Where, Do string }
		}
		if json.Unmarshal(b, &e) == nil && e.Error.What != "" {
			return errors.New(strings.TrimSpace(e.Error.Where + " " + e.Error.What + "; " + e.Error.Do))
		}
		return fmt.Errorf("%s %s: %s", method, way, res.Status)
	}
	if into == nil {
		return nil
	}
	return json.Unmarshal(b, into)
}
