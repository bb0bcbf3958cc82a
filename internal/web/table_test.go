package web

import (
	"encoding/csv"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"
	"testing"
)

// The table as a file says what the card says, and no label in it is run as a
// formula.
func TestTable(t *testing.T) {
	b := newBed(t)
	h := call(t, b, "POST", "heads", obj{"number": `=1+1,"x"`, "layout": layout4}, 201)
	id, port, second := at(t, h, "head.id").(string), at(t, h, "head.ports.0.id").(string), at(t, h, "head.ports.1.id").(string)
	call(t, b, "POST", "tests", counted(id, port, "21½", "21½"), 201)
	call(t, b, "POST", "tests", counted(id, second, "21", "5"), 201)
	call(t, b, "POST", "tests", counted(id, at(t, h, "head.ports.2.id").(string), "21", "15"), 201)
	call(t, b, "POST", "heads/"+id+"/work", obj{"valves": at(t, h, "head.ports.2.valves"), "kind": "lapped"}, 201)
	card := call(t, b, "GET", "heads/"+id+"/card", nil, 200)

	res, err := http.Get(b.URL + "/api/heads/" + id + "/table.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != 200 || !strings.HasPrefix(res.Header.Get("Content-Type"), "text/csv") {
		t.Fatalf("status %d, %q, error %v: %s", res.StatusCode, res.Header.Get("Content-Type"), err, text)
	}
	if got := res.Header.Get("Content-Disposition"); !strings.Contains(got, `=1+1,-x-.csv`) {
		t.Errorf("the download is called %q", got)
	}
	table, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows := at(t, card, "rows").([]any)
	if len(table) != len(rows)+1 {
		t.Fatalf("%d lines for %d ports", len(table), len(rows))
	}
	column := map[string]int{}
	for i, name := range table[0] {
		column[name] = i
	}
	for i, row := range rows {
		cell := func(name string) string { return table[i+1][column[name]] }
		if got := cell("head"); got != `'=1+1,"x"` {
			t.Errorf("the head's label is the cell %q", got)
		}
		if cell("port") != at(t, row, "name") || cell("verdict") != at(t, row, "word") {
			t.Errorf("line %d is %q, %q; the card has %v, %v", i+1, cell("port"), cell("verdict"), at(t, row, "name"), at(t, row, "word"))
		}
		leak, again := cell("leak (cm3/min)"), cell("tested again high (cm3/min)")
		switch at(t, row, "port") {
		case port, second:
			if high, err := strconv.ParseFloat(again, 64); err != nil || high <= 0 {
				t.Errorf("tested again, high end: %q", again)
			}
			// the card's limit has two digits
			limit, err := strconv.ParseFloat(cell("limit one valve (cm3/min)"), 64)
			shown, err2 := strconv.ParseFloat(at(t, row, "limit").(string), 64)
			if err != nil || err2 != nil || math.Abs(limit-shown) > .05*shown {
				t.Errorf("limit %q, and %v on the card", cell("limit one valve (cm3/min)"), at(t, row, "limit"))
			}
		case at(t, h, "head.ports.2.id"):
			if leak != "" || again != "" || !strings.Contains(cell("note"), "was ") {
				t.Errorf("a port worked on since: leak %q, again %q, note %q", leak, again, cell("note"))
			}
		default:
			if leak != "" || cell("tests") != "0" {
				t.Errorf("a port never tested: %q", table[i+1])
			}
		}
	}
}

func TestCells(t *testing.T) {
	for s, want := range map[string]string{"": "", "EX-3": "EX-3", "=1": "'=1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\tx": "'\tx", "ä": "ä"} {
		if got := harmless(s); got != want {
			t.Errorf("%q is written %q, want %q", s, got, want)
		}
	}
	for x, want := range map[float64]string{0: "0", 123456: "123000", 0.00123456: "0.00123", 9.6: "9.6", 22.9022: "22.9"} {
		if got := plain(x); got != want {
			t.Errorf("%g is written %s, want %s", x, got, want)
		}
	}
	for s, want := range map[string]string{"EX-3": "EX-3.zip", "a/b\\c": "a-b-c.zip", "..": "head.zip", "": "head.zip", strings.Repeat("ä", 80): strings.Repeat("ä", 50) + ".zip"} {
		if got := ExportName(s); got != want {
			t.Errorf("the export of %q is called %q, want %q", s, got, want)
		}
	}
}
