package web

import (
	"encoding/csv"
	"io"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
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
		if got := csvCell(rounded(x)); got != want {
			t.Errorf("%g is written %s, want %s", x, got, want)
		}
	}
	for s, want := range map[string]string{"EX-3": "EX-3.zip", "a/b\\c": "a-b-c.zip", "..": "head.zip", "": "head.zip", strings.Repeat("ä", 80): strings.Repeat("ä", 50) + ".zip"} {
		if got := ExportName(s); got != want {
			t.Errorf("the export of %q is called %q, want %q", s, got, want)
		}
	}
}

// The workbook read back: figures are numbers, texts are texts and no formulas,
// the row of heads is frozen, and the second sheet has every test.
func TestWorkbook(t *testing.T) {
	b := newBed(t)
	const number = "=1+1,\"x\"\x01"
	h := call(t, b, "POST", "heads", obj{"number": number, "layout": layout4}, 201)
	id, port, second := at(t, h, "head.id").(string), at(t, h, "head.ports.0.id").(string), at(t, h, "head.ports.1.id").(string)
	call(t, b, "POST", "tests", counted(id, port, "21½", "21½"), 201)
	evil := counted(id, second, "21", "5")
	evil["note"] = "=HYPERLINK(\"http://127.0.0.1/\")"
	evil["at"] = 1_773_482_530_000
	call(t, b, "POST", "tests", evil, 201)
	refused := counted(id, second, "21", "20")
	refused["conditions"].(obj)["wet_with"] = "oil"
	call(t, b, "POST", "tests", refused, 201)

	res, err := http.Get(b.URL + "/api/heads/" + id + "/table.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if res.StatusCode != 200 || !strings.Contains(res.Header.Get("Content-Disposition"), ".xlsx") {
		t.Fatalf("status %d, %q", res.StatusCode, res.Header.Get("Content-Disposition"))
	}
	f, err := excelize.OpenReader(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got := f.GetSheetList(); !slices.Equal(got, []string{"Ports", "Tests"}) {
		t.Fatalf("sheets %q", got)
	}
	csvRes, err := http.Get(b.URL + "/api/heads/" + id + "/table.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer csvRes.Body.Close()
	lines, err := csv.NewReader(csvRes.Body).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	figures := 0
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		if p, err := f.GetPanes(sheet); err != nil || !p.Freeze || p.YSplit != 1 || p.XSplit != 0 {
			t.Errorf("%s: panes %+v, error %v", sheet, p, err)
		}
		for i, row := range rows {
			for k, text := range row {
				cell, _ := excelize.CoordinatesToCellName(k+1, i+1)
				if formula, err := f.GetCellFormula(sheet, cell); err != nil || formula != "" {
					t.Errorf("%s!%s is a formula: %q, error %v", sheet, cell, formula, err)
				}
				kind, err := f.GetCellType(sheet, cell)
				if err != nil {
					t.Fatal(err)
				}
				head := rows[0][k]
				number := strings.Contains(head, "cm3/min") || strings.HasPrefix(head, "chance") || head == "tests" || head == "when"
				if i == 0 || text == "" {
					continue
				}
				if isNumber := kind == excelize.CellTypeNumber || kind == excelize.CellTypeUnset; isNumber != number {
					t.Errorf("%s!%s, %q, under %q is of type %d", sheet, cell, text, head, kind)
				}
				if _, err := strconv.ParseFloat(text, 64); number && err != nil {
					t.Errorf("%s!%s, %q, under %q is no figure", sheet, cell, text, head)
				}
				if number {
					figures++
				}
				if sheet == "Ports" && head != "head" && text != lines[i][k] {
					t.Errorf("%s is %q, and %q in the CSV", cell, text, lines[i][k])
				}
			}
		}
	}
	if figures < 20 {
		t.Errorf("%d figures in all", figures)
	}
	tests, _ := f.GetRows("Tests", excelize.Options{RawCellValue: true})
	if len(tests) != 4 {
		t.Fatalf("%d lines on the second sheet, want heads and 3 tests", len(tests))
	}
	column := map[string]int{}
	for i, name := range tests[0] {
		column[name] = i
	}
	if got := tests[1][column["note"]]; got != "=HYPERLINK(\"http://127.0.0.1/\")" {
		t.Errorf("the note is %q", got)
	}
	if got := tests[1][column["head"]]; got != "=1+1,\"x\" " {
		t.Errorf("the label is %q", got)
	}
	when, _ := strconv.ParseFloat(tests[1][column["when"]], 64)
	at, err := excelize.ExcelDateToTime(when, false)
	if want := time.UnixMilli(1_773_482_530_000).Format("2006-01-02 15:04"); err != nil || at.Round(time.Second).Format("2006-01-02 15:04") != want {
		t.Errorf("the test was made at %v, want %s", at, want)
	}
	oiled := tests[3]
	if got := oiled[column["counts for the port"]]; !strings.HasPrefix(got, "no: ") {
		t.Errorf("a test on oiled seats counts: %q", got)
	}
	if got := tests[1][column["counts for the port"]]; got != "yes" {
		t.Errorf("a dry test: %q", got)
	}
	if oiled[column["warnings"]] == "" || !strings.Contains(oiled[column["how"]], "oil") {
		t.Errorf("the oiled test: %q", oiled)
	}
}
