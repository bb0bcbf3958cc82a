package web

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
	"testing"
)

// The invented port of the example whose fall stops: it holds, and must be dried
// and tested again first. Card, table, drawing and list say so, and the sign-off
// does not count it.
func TestRetestOnTheCard(t *testing.T) {
	b := newBed(t)
	file, err := os.Open("../../examples/inline-three/cylinder-3-intake.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rigText, err := os.ReadFile("../../examples/inline-three/rig.toml")
	if err != nil {
		t.Fatal(err)
	}
	blob, err := b.keeper.AddBlob(t.Context(), "a.csv", "text/csv", file)
	if err != nil {
		t.Fatal(err)
	}
	rig := at(t, call(t, b, "POST", "rigs", obj{"name": "x", "file": string(rigText)}, 201), "rig.id")
	h := call(t, b, "POST", "heads", obj{"number": "T-1", "rig": rig, "layout": layout4}, 201)
	id, port := at(t, h, "head.id").(string), at(t, h, "head.ports.0.id").(string)
	test := counted(id, port, "", "")
	delete(test, "readings")
	test["source"], test["trace"], test["rig"] = "file", blob.ID, rig
	c := at(t, call(t, b, "POST", "tests", test, 201), "card")
	for path, want := range map[string]any{"rows.0.state": "holds", "rows.0.word": "holds, retest", "rows.0.sign_off": false, "next.1.kind": "retest", "next.1.port": port} {
		if got := at(t, c, path); got != want {
			t.Errorf("%s is %v, want %v", path, got, want)
		}
	}
	if step := at(t, c, "rows.0.retest").(string); !strings.HasPrefix(step, "dry the port") || !strings.HasPrefix(at(t, c, "next.1.words").(string), "Dry the port") {
		t.Errorf("the step is %q, then %v", step, at(t, c, "next.1"))
	}
	if line, result := at(t, c, "line").(string), at(t, c, "result").(string); !strings.Contains(line, "1 of them in doubt") || !strings.Contains(result, "0 of the verdicts count for the sign-off") {
		t.Errorf("%q, %q", line, result)
	}
	for way, words := range map[string]string{"plan?width=800": ">retest<", "table.csv": `"holds, retest"`} {
		res, err := http.Get(b.URL + "/api/heads/" + id + "/" + way)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err != nil || strings.Count(string(text), words) != 1 {
			t.Errorf("%s does not say %q once: %v\n%s", way, words, err, text)
		}
	}
}

// A port's guessed volume is named with the other guesses, once, on its sheet and
// in the result; one that was poured full is not.
func TestVolumeGuessIsSaidOnce(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	c := call(t, b, "POST", "tests", counted(id, port, "21½", "20"), 201)
	sheet := call(t, b, "GET", "heads/"+id+"/ports/"+port, nil, 200)
	for where, said := range map[string]string{"result": at(t, c, "card.result").(string), "sheet": fmt.Sprint(sheet["guessed"])} {
		if n := strings.Count(said, "port volume"); n != 1 {
			t.Errorf("the %s names the port's volume %d times: %s", where, n, said)
		}
	}
	rev := at(t, call(t, b, "GET", "heads/"+id, nil, 200), "head.rev")
	c = call(t, b, "PUT", "heads/"+id, obj{"rev": rev, "ports": []obj{{"id": port, "volume": "95 ± 5 cm³"}}}, 200)
	if said := at(t, c, "card.result").(string); strings.Contains(said, "port volume") {
		t.Errorf("a volume that was given is called guessed: %s", said)
	}
}
