package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"
	"time"
)

// previewed sends a form whose fields stand in the order given, "file" among them.
func previewed(t *testing.T, b *bed, fields ...[2]string) obj {
	t.Helper()
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	for _, f := range fields {
		if f[0] == "file" {
			part, _ := w.CreateFormFile("file", "log.csv")
			_, _ = io.WriteString(part, f[1])
			continue
		}
		_ = w.WriteField(f[0], f[1])
	}
	w.Close()
	res, err := http.Post(b.URL+"/api/preview", w.FormDataContentType(), &form)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	var seen obj
	if err := json.NewDecoder(res.Body).Decode(&seen); err != nil || res.StatusCode != 200 {
		t.Fatalf("preview: status %d, error %v, %v", res.StatusCode, err, seen)
	}
	return seen
}

// A file is read once, as it comes in, whatever is longer than what is under way; it
// is opened again only where something was said of it behind it.
func TestPreviewReadsOnce(t *testing.T) {
	k := &counting{Memory: NewMemory()}
	b := bedOn(t, Config{Keeper: k, Version: "1"})
	var csv strings.Builder
	for i := range 400_000 {
		fmt.Fprintf(&csv, "%.2f,%.3f\n", float64(i)*.05, 20-float64(i)*1e-5)
	}
	const columns = "s, kPa vacuum"
	before := previewed(t, b, [2]string{"columns", columns}, [2]string{"file", csv.String()})
	if n := k.opened.Load(); n != 0 {
		t.Errorf("what was said before the file: it was opened %d times, want none", n)
	}
	if says, _ := before["says"].(string); !strings.Contains(says, "400000 samples") && !strings.Contains(says, "samples over 20") {
		t.Errorf("it says %q", says)
	}
	behind := previewed(t, b, [2]string{"file", csv.String()}, [2]string{"columns", columns})
	if n := k.opened.Load(); n != 1 {
		t.Errorf("what was said behind the file: it was opened %d times, want once", n)
	}
	again := previewed(t, b, [2]string{"columns", columns}, [2]string{"trace", before["trace"].(string)})
	if n := k.opened.Load(); n != 2 {
		t.Errorf("a file sent earlier was opened %d times, want once", n-1)
	}
	for what, seen := range map[string]obj{"said behind it": behind, "sent earlier": again} {
		if fmt.Sprint(seen) != fmt.Sprint(before) {
			t.Errorf("%s: %.300v\nwant\n%.300v", what, seen, before)
		}
	}
	// A file that can't be read at its second row is kept to its end all the same.
	bad := previewed(t, b, [2]string{"file", "a;b\nx;y\n" + strings.Repeat("1;2\n", 2_000_000)})
	if bad["size"] != float64(len("a;b\nx;y\n")+4*2_000_000) {
		t.Errorf("of a file that can't be read %v bytes are kept: %.300v", bad["size"], bad)
	}
}

// An upload that breaks off keeps nothing, and its reader ends too.
func TestPreviewBreaksOff(t *testing.T) {
	k := NewMemory()
	b := bedOn(t, Config{Keeper: k, Version: "1"})
	ctx, stop := context.WithCancel(t.Context())
	r, w := io.Pipe()
	form := multipart.NewWriter(w)
	go func() {
		part, _ := form.CreateFormFile("file", "log.csv")
		_, _ = io.WriteString(part, "time_s,vacuum_kPa\n"+strings.Repeat("0,1\n", 500_000))
		stop()
		_ = w.CloseWithError(io.ErrUnexpectedEOF)
	}()
	req, err := http.NewRequestWithContext(ctx, "POST", b.URL+"/api/preview", r)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", form.FormDataContentType())
	if res, err := http.DefaultClient.Do(req); err == nil {
		res.Body.Close()
		t.Errorf("a form without an end was answered with %d", res.StatusCode)
	}
	done := make(chan struct{})
	go func() { b.Close(); close(done) }() // waits for every request under way
	select {
	case <-done:
	case <-time.After(10 * time.Second):
		t.Fatal("the request never ended")
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(k.blobs) != 0 {
		t.Errorf("%d files are kept of one that broke off", len(k.blobs))
	}
}
