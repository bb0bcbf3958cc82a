package report

import (
	_ "embed"
	"fmt"
	"io"
	"strconv"
	"sync"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// The typeface as a PDF embeds it: the same files as the pages', unpacked
// (woff2_decompress). Why this library: docs/decisions/0015-pdf.md.
var (
	//go:embed font/b612-latin-400-normal.ttf
	regularTTF []byte
	//go:embed font/b612-latin-700-normal.ttf
	boldTTF []byte
)

const (
	family  = "B612"
	ptPerMM = 72 / 25.4
)

func newPDF(width, height float64) *fpdf.Fpdf {
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: width, Ht: height}})
	f.AddUTF8FontFromBytes(family, "", regularTTF)
	f.AddUTF8FontFromBytes(family, "B", boldTTF)
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	return f
}

func setFont(f *fpdf.Fpdf, size float64, bold bool) {
	style := ""
	if bold {
		style = "B"
	}
	f.SetFont(family, style, size*ptPerMM)
}

// ruler measures text in the typeface [mm] for whoever lays out a drawing.
type ruler struct {
	mu sync.Mutex
	f  *fpdf.Fpdf
}

var rulerOnce = sync.OnceValue(func() *ruler { return &ruler{f: newPDF(148, 210)} })

func (r *ruler) width(text string, size float64, bold bool) float64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	setFont(r.f, size, bold)
	return r.f.GetStringWidth(text)
}

// pdfAbout is what a PDF says of itself.
type pdfAbout struct{ title, subject, version string }

// pdf writes the drawing as a PDF of one page: light colours, white paper, text
// that can be searched. The same drawing makes the same bytes: it bears no time
// of its own.
func (a *art) pdf(w io.Writer, about pdfAbout) error {
	f := newPDF(a.width, a.height)
	f.SetCatalogSort(true)
	day := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC) // none is said; the card bears its date in words
	f.SetCreationDate(day)
	f.SetModificationDate(day)
	f.SetTitle(about.title, true)
	f.SetSubject(about.subject, true)
	f.SetCreator("seatproof "+about.version, true)
	f.SetLang("en-GB")
	f.AddPage()
	f.SetLineCapStyle("butt")
	f.SetLineJoinStyle("miter")
	for _, m := range a.marks {
		r, g, b := rgb(m.ink)
		p := m.at[0]
		switch m.kind {
		case markText:
			f.SetTextColor(r, g, b)
			setFont(f, m.size, m.bold)
			f.Text(p.x, p.y, m.text)
		case markDot:
			f.SetFillColor(r, g, b)
			f.Circle(p.x, p.y, m.width, "F")
		case markLine:
			f.SetDrawColor(r, g, b)
			f.SetLineWidth(m.width)
			f.SetDashPattern(m.dash, 0)
			f.MoveTo(p.x, p.y)
			for _, q := range m.at[1:] {
				f.LineTo(q.x, q.y)
			}
			f.DrawPath("D")
			f.SetDashPattern(nil, 0)
		case markShape:
			f.SetDrawColor(r, g, b)
			f.SetFillColor(r, g, b)
			f.SetLineWidth(m.width)
			points := make([]fpdf.PointType, len(m.at))
			for i, q := range m.at {
				points[i] = fpdf.PointType{X: q.x, Y: q.y}
			}
			f.Polygon(points, map[bool]string{true: "F", false: "D"}[m.fill])
		}
	}
	if err := f.Output(w); err != nil {
		return fmt.Errorf("write PDF: %w", err)
	}
	return nil
}

// rgb is the light colour of a token; printed paper is white.
func rgb(t token) (r, g, b int) {
	if t == paper || t == sheet {
		return 255, 255, 255
	}
	for _, c := range colours {
		if c.name == t {
			x, _ := strconv.ParseUint(c.light[1:], 16, 32) // six hexadecimal digits, by the table above
			return int(x >> 16), int(x >> 8 & 255), int(x & 255)
		}
	}
	return 0, 0, 0
}
