package web

import (
	"io/fs"
	"path"
	"strings"
	"testing"

	"seatproof/head"
)

func newVoice(t *testing.T) (*assets, map[string]string) {
	t.Helper()
	a, err := newAssets()
	if err != nil {
		t.Fatal(err)
	}
	return a, a.voice
}

// Every call, every state and every word that a port's name is made of can be
// called out without the system's voice.
func TestVoiceSaysAll(t *testing.T) {
	_, at := newVoice(t)
	has := func(phrase, from string) {
		t.Helper()
		if at[phrase] == "" {
			t.Errorf("%q, of %s, has no clip", phrase, from)
		}
	}
	for code, phrase := range callWords {
		has(phrase, "call "+code)
	}
	for _, w := range stateWords {
		if spokenStates[w.Code] == "" {
			t.Errorf("state %q is called nothing", w.Code)
		}
		has(spokenStates[w.Code], "state "+w.Code)
	}
	has("next", "the way on")
	n := 0
	for cylinders := 1; cylinders <= 6; cylinders++ {
		for bank := 0; bank <= 2; bank++ {
			for valves := 2; valves <= 5; valves++ {
				for _, ports := range []head.Gather{head.PortEach, head.PortValve, head.PortPairs, head.PortCentre} {
					form := head.FormInline
					if bank > 0 {
						form = head.FormVee
					}
					j, f := head.Layout(head.Scheme{Form: form, Cylinders: cylinders, Bank: bank, Valves: valves, Intake: ports, Exhaust: ports})
					if len(f) > 0 {
						continue // not every engine has such ports
					}
					for _, p := range j.Ports {
						name := j.PortName(p.ID)
						for _, w := range strings.FieldsFunc(name, func(r rune) bool { return r == ' ' || r == ',' }) {
							has(w, name)
						}
						n++
					}
				}
			}
		}
	}
	if n < 500 {
		t.Errorf("%d port names were tried: the test looks in the wrong place", n)
	}
}

// No clip is without its words, none is a stub, all together are small. What is in
// them is heard by tools/voice.sh --check and in the browser's test.
func TestVoiceFiles(t *testing.T) {
	a, at := newVoice(t)
	names := map[string]bool{}
	for phrase := range at {
		names[clipName(phrase)] = true
	}
	total := 0
	err := fs.WalkDir(voiceFiles, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path.Ext(name) != ".mp3" {
			return err
		}
		if !names[path.Base(name)] {
			t.Errorf("%s belongs to no words", name)
		}
		x := a.files["voice-"+path.Base(name)]
		if len(x.plain) < 800 || x.kind != "audio/mpeg" {
			t.Errorf("%s: %d bytes of %s", name, len(x.plain), x.kind)
		}
		total += len(x.plain)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if total == 0 || total > 300<<10 {
		t.Errorf("the clips have %d bytes together", total)
	}
}
