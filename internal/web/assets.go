package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"
	"mime"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"seatproof/head"
	"seatproof/internal/report"
)

//go:embed assets/app.js assets/plot.js assets/app.css assets/shell.html assets/status.html assets/pair.html
var embedded embed.FS

// asset is a file as it is sent.
type asset struct {
	plain, packed []byte
	kind, tag     string
}

type assets struct {
	files  map[string]asset
	pages  *template.Template
	script string // addresses with their fingerprints
	plot   string // what draws charts
	style  string
	voice  map[string]string // where the clip of a phrase is
	fonts  []string
}

// newAssets packs what is embedded once. The stylesheet begins with the colours
// and drawing rules of package report, which the printed pages share.
func newAssets() (*assets, error) {
	a := &assets{files: map[string]asset{}}
	script, err := embedded.ReadFile("assets/app.js")
	if err != nil {
		return nil, err
	}
	plot, err := embedded.ReadFile("assets/plot.js")
	if err != nil {
		return nil, err
	}
	style, err := embedded.ReadFile("assets/app.css")
	if err != nil {
		return nil, err
	}
	for name, b := range report.Fonts() {
		a.add(name, b, false)
	}
	var css bytes.Buffer
	for _, name := range []string{"b612-400.woff2", "b612-700.woff2"} {
		weight := name[5:8]
		fmt.Fprintf(&css, "@font-face{font-family:B612;font-weight:%s;font-display:block;src:url(%s) format(\"woff2\")}\n", weight, a.address(name))
		a.fonts = append(a.fonts, a.address(name))
	}
	css.WriteString(report.SheetCSS())
	css.Write(style)
	a.add("app.js", script, true)
	a.add("plot.js", plot, true)
	a.add("app.css", css.Bytes(), true)
	a.script, a.plot, a.style = a.address("app.js"), a.address("plot.js"), a.address("app.css")
	if a.voice, err = a.addVoice(); err != nil {
		return nil, err
	}
	a.pages, err = template.New("").ParseFS(embedded, "assets/*.html")
	return a, err
}

func (a *assets) add(name string, b []byte, pack bool) {
	sum := sha256.Sum256(b)
	x := asset{plain: b, kind: mime.TypeByExtension(path.Ext(name)), tag: hex.EncodeToString(sum[:8])}
	switch path.Ext(name) { // not every machine's list has these
	case ".woff2":
		x.kind = "font/woff2"
	case ".mp3":
		x.kind = "audio/mpeg"
	case ".js":
		x.kind = "text/javascript; charset=utf-8"
	}
	if pack {
		var z bytes.Buffer
		w, _ := gzip.NewWriterLevel(&z, gzip.BestCompression)
		_, _ = w.Write(b)
		_ = w.Close()
		x.packed = z.Bytes()
	}
	a.files[name] = x
}

func (a *assets) address(name string) string { return "/assets/" + name + "?" + a.files[name].tag }

func (a *assets) serve(w http.ResponseWriter, r *http.Request) error {
	x, ok := a.files[r.PathValue("name")]
	if !ok {
		return &Fault{Status: http.StatusNotFound, What: "there is no such file"}
	}
	h := w.Header()
	h.Set("Content-Type", x.kind)
	h.Set("ETag", `"`+x.tag+`"`)
	h.Set("Vary", "Accept-Encoding")
	h.Set("Cache-Control", "no-cache")
	if r.URL.RawQuery == x.tag {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	if r.Header.Get("If-None-Match") == `"`+x.tag+`"` {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	body := x.plain
	if x.packed != nil && strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		body = x.packed
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	_, _ = w.Write(body)
	return nil
}

// shell is the page that the sheets live in.
func (s *Server) shell(w http.ResponseWriter, r *http.Request) error {
	set, err := s.loadSettings(r.Context())
	if err != nil {
		return err
	}
	begin := map[string]any{"words": s.words(), "settings": settingsAnswer{set.Rev, set.V}, "seq": s.hub.last(), "plot": s.assets.plot}
	return s.page(w, "shell.html", map[string]any{"Begin": begin, "Script": s.assets.script, "Style": s.assets.style, "Fonts": s.assets.fonts, "Hatches": template.HTML(report.HatchDefs()), "Version": s.Version})
}

func (s *Server) page(w http.ResponseWriter, name string, data any) error {
	return s.pageWith(w, http.StatusOK, name, data)
}

func (s *Server) pageWith(w http.ResponseWriter, status int, name string, data any) error {
	var b bytes.Buffer
	if err := s.assets.pages.ExecuteTemplate(&b, name, data); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes())
	return nil
}

// statusPage says how the heads stand, without script.
func (s *Server) statusPage(w http.ResponseWriter, r *http.Request) error {
	jobs, err := list[head.Job](r.Context(), s.Keeper, Query{Kind: kindJob})
	if err != nil {
		return err
	}
	type entry struct {
		Number, Title, Line string
		Rows                []cardRow
	}
	var heads []entry
	for _, k := range jobs {
		c, err := s.card(r.Context(), k)
		if err != nil {
			return err
		}
		heads = append(heads, entry{k.V.Number, k.V.Title, c.Line, c.Rows})
	}
	return s.page(w, "status.html", map[string]any{"Style": s.assets.style, "Heads": heads, "Version": s.Version})
}

// noIcon keeps browsers from asking again.
func (s *Server) noIcon(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Cache-Control", "max-age=86400")
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// mostSound is the longest sound of which parts are sent: an hour or so of speech.
const mostSound = 64 << 20

// sendBlob sends bytes that never change. What a browser might run is only ever
// offered as a file.
func (s *Server) sendBlob(w http.ResponseWriter, r *http.Request, id string) error {
	b, body, err := s.Keeper.OpenBlob(r.Context(), id)
	if err != nil {
		return err
	}
	defer body.Close()
	h := w.Header()
	h.Set("ETag", `"`+b.ID+`"`)
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	start, err := firstOf(body)
	if err != nil {
		return err
	}
	t := mediaType(b.Type)
	if k := kindOf(start, b.Type); k != "" {
		t = k // what it is, whatever it called itself
	}
	if slices.Contains(shownTypes, t) {
		h.Set("Content-Type", t)
	} else {
		h.Set("Content-Type", "application/octet-stream")
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": b.Name}))
	}
	all := io.MultiReader(bytes.NewReader(start), body)
	if strings.HasPrefix(t, "audio/") && b.Size <= mostSound {
		// a player asks for parts, and some play nothing without them
		sound, err := io.ReadAll(all)
		if err != nil {
			return err
		}
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(sound))
		return nil
	}
	h.Set("Content-Length", strconv.FormatInt(b.Size, 10))
	_, err = io.Copy(w, all)
	if err != nil {
		s.Log.Debug("a blob was not sent to its end", "blob", b.ID, "error", err.Error())
	}
	return nil
}
