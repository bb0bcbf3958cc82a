package report

import (
	"bufio"
	"fmt"
	"html/template"
	"strings"
)

// sideTable is a small table beside the ports: the first cell of a row names a port
// or a cylinder.
type sideTable struct {
	Title string
	Head  [][2]string // two lines each
	Names []string    // of the columns, where each stands by itself
	Words []int       // columns of words, not figures
	Rows  [][]string
	Below []string // sentences
}

func (t *sideTable) column(top, bottom, name string) {
	t.Head, t.Names = append(t.Head, [2]string{top, bottom}), append(t.Names, name)
}

// write writes it as text.
func (t *sideTable) write(b *bufio.Writer) {
	grid := [][]string{make([]string, len(t.Head)), make([]string, len(t.Head))}
	right := make([]bool, len(t.Head))
	for i, h := range t.Head {
		grid[0][i], grid[1][i], right[i] = h[0], h[1], i > 0
	}
	for _, i := range t.Words {
		right[i] = false
	}
	fmt.Fprintf(b, "\n%s\n", t.Title)
	writeGrid(b, append(grid, t.Rows...), right, "  ")
	if len(t.Below) > 0 {
		fmt.Fprintln(b, "  "+wrap(strings.Join(t.Below, " "), "  "))
	}
}

// pageSide is such a table on the page.
type pageSide struct {
	Title template.HTML
	Class string
	Head  []pageCell
	Rows  [][]pageCell
	Below template.HTML
}

type pageCell struct {
	Class string // "r": figures, flush right
	Name  string // of the column
	Words template.HTML
}

func (t *sideTable) page(class string) *pageSide {
	p := &pageSide{Title: typographic(t.Title), Class: class, Below: typographic(strings.Join(t.Below, " "))}
	classes := make([]string, len(t.Head))
	for i := range classes {
		classes[i] = "r"
	}
	classes[0] = ""
	for _, i := range t.Words {
		classes[i] = ""
	}
	for i, h := range t.Head {
		words := typographic(h[1])
		if h[0] != "" {
			words = typographic(h[0]) + "<br>" + words
		}
		p.Head = append(p.Head, pageCell{Class: classes[i], Words: words})
	}
	for _, row := range t.Rows {
		var cells []pageCell
		for i, c := range row {
			if i == 0 {
				c = sentence(c)
			}
			cells = append(cells, pageCell{classes[i], t.Names[i], sideCell(c)})
		}
		p.Rows = append(p.Rows, cells)
	}
	return p
}

// sideCell sets a figure and, smaller, the interval behind it in brackets.
func sideCell(c string) template.HTML {
	figure, rest, ok := strings.Cut(c, " (")
	if !ok {
		return typographic(c)
	}
	return typographic(figure) + ` <span class="from">` + typographic(strings.Replace(rest, ")", "", 1)) + `</span>`
}
