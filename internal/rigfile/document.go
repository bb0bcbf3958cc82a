package rigfile

import (
	"bytes"
	"errors"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// place is a position in the file, from 1, in characters.
type place struct{ line, column int }

// value is a TOML value with its position. Only what a rig file can hold is
// kept apart: text, lists, and all else by its spelling.
type value struct {
	kind  unstable.Kind
	text  string  // of a string its content, else as it is spelled
	items []value // of an array
	at    place
}

// entry is one key with its value, in the order of the file.
type entry struct {
	key   string // dotted
	at    place
	value value

	start    int  // bytes: where its key begins
	from, to int  // where its value begins and ends
	whole    int  // where the expression it stands in ends: its value, or the inline table
	inline   bool // it stands in an inline table
}

// table is a table header as written: [pump] or [[pump]].
type table struct {
	key    string
	at     place
	listed bool // [[ ]]
	inline bool // key = { }
	start  int  // bytes: where its line begins
}

// document is a TOML file flattened to dotted keys.
type document struct {
	entries []entry
	tables  []table
}

// parseDocument flattens a TOML text. It is parsed twice: once by the
// ordinary decoder, which knows all of TOML's rules (keys given twice, say),
// and once by the parser below it, which knows where things stand.
func parseDocument(data []byte) (document, *Fault) {
	var all map[string]any
	if err := toml.Unmarshal(data, &all); err != nil {
		fault := &Fault{Problem: "it is not TOML: " + strings.TrimPrefix(err.Error(), "toml: "), Cause: err}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			row, column := at.Position()
			fault.Line, fault.Column = row, inCharacters(data, row, column)
			fault.Key = strings.Join(at.Key(), ".")
		}
		return document{}, fault
	}
	var (
		doc    document
		parser unstable.Parser
		prefix []string
	)
	parser.Reset(data)
	for parser.NextExpression() {
		node := parser.Expression()
		switch node.Kind {
		case unstable.Table, unstable.ArrayTable:
			var at place
			var start int
			prefix, at, start, _ = keyOf(&parser, data, node)
			start = bytes.LastIndexByte(data[:start], '\n') + 1
			doc.tables = append(doc.tables, table{strings.Join(prefix, "."), at, node.Kind == unstable.ArrayTable, false, start})
		case unstable.KeyValue:
			doc.add(&parser, data, prefix, node, 0)
		}
	}
	if err := parser.Error(); err != nil {
		return document{}, &Fault{Problem: "it is not TOML: " + err.Error(), Cause: err}
	}
	return doc, nil
}

// add appends a key with its value, and the keys of inline tables one by one.
// whole is where the expression ends that the key stands in, 0 outside of inline
// tables.
func (doc *document) add(parser *unstable.Parser, data []byte, prefix []string, node *unstable.Node, whole int) {
	own, at, start, end := keyOf(parser, data, node)
	path := append(append([]string(nil), prefix...), own...)
	from := skip(data, end)
	if from < len(data) && data[from] == '=' {
		from = skip(data, from+1)
	}
	to, inline := valueEnd(data, from), whole > 0
	if !inline {
		whole = to
	}
	if node.Value().Kind == unstable.InlineTable {
		doc.tables = append(doc.tables, table{strings.Join(path, "."), at, false, true, start})
		children := node.Value().Children()
		for children.Next() {
			if child := children.Node(); child.Kind == unstable.KeyValue {
				doc.add(parser, data, path, child, whole)
			}
		}
		return
	}
	doc.entries = append(doc.entries, entry{strings.Join(path, "."), at, valueOf(parser, data, node.Value(), at), start, from, to, whole, inline})
}

// keyOf returns the parts of a node's key, and where it begins and ends in bytes.
func keyOf(parser *unstable.Parser, data []byte, node *unstable.Node) (parts []string, at place, start, end int) {
	key := node.Key()
	for key.Next() {
		raw := key.Node().Raw
		if parts == nil {
			at, start = placeOf(parser, data, raw), int(raw.Offset)
		}
		end = int(raw.Offset + raw.Length)
		part := string(key.Node().Data)
		if part == "" || strings.Contains(part, ".") { // "a.b" = is no a.b =
			part = strconv.Quote(part)
		}
		parts = append(parts, part)
	}
	return parts, at, start, end
}

// valueOf copies a value out of the parser. A list has no position of its own
// there: it gets that of its key, its items have theirs.
func valueOf(parser *unstable.Parser, data []byte, node *unstable.Node, at place) value {
	v := value{kind: node.Kind, text: string(node.Data), at: at}
	if node.Raw.Length > 0 {
		v.at = placeOf(parser, data, node.Raw)
	}
	if node.Kind == unstable.Array {
		children := node.Children()
		for children.Next() {
			if child := children.Node(); child.Kind != unstable.Comment {
				v.items = append(v.items, valueOf(parser, data, child, v.at))
			}
		}
	}
	return v
}

func placeOf(parser *unstable.Parser, data []byte, raw unstable.Range) place {
	start := parser.Shape(raw).Start
	return place{start.Line, inCharacters(data, start.Line, start.Column)}
}

// inCharacters turns a column counted in bytes into one counted in characters,
// as an editor shows it.
func inCharacters(data []byte, line, column int) int {
	for ; line > 1; line-- {
		_, after, ok := bytes.Cut(data, []byte("\n"))
		if !ok {
			return column
		}
		data = after
	}
	return utf8.RuneCount(data[:min(max(column-1, 0), len(data))]) + 1
}
