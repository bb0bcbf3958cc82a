package web

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strconv"
	"strings"

	"seatproof/internal/report"
)

// The recorded words, for systems that have no voice. tools/voice.sh makes them
// from words.txt, one phrase a line, and listens to each.
//
//go:embed assets/voice
var voiceFiles embed.FS

// spokenNumbers are the clips of 1 to 16, the numbers that port names hold.
var spokenNumbers = []string{"one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen"}

// spokenStates are what is called out for a state after a test is filed.
var spokenStates = map[string]string{
	string(report.Holds): "holds", string(report.Leaks): "leaks", string(report.CantTellYet): "can't tell yet",
	string(report.Refused): "no reading", string(report.Unreadable): "no reading", string(report.NoVerdict): "can't tell yet",
	string(report.NotTested): "not tested", string(report.Lapsed): "again",
}

// clipName is the file of a phrase.
func clipName(phrase string) string {
	return strings.ReplaceAll(strings.ReplaceAll(phrase, "'", ""), " ", "-") + ".mp3"
}

// addVoice takes the clips in and returns where each phrase is, figures too.
func (a *assets) addVoice() (map[string]string, error) {
	list, err := voiceFiles.ReadFile("assets/voice/words.txt")
	if err != nil {
		return nil, err
	}
	at := map[string]string{}
	for phrase := range strings.Lines(string(list)) {
		phrase = strings.TrimSpace(phrase)
		name := clipName(phrase)
		b, err := voiceFiles.ReadFile(path.Join("assets/voice", name))
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("no clip of %q: run tools/voice.sh", phrase)
		}
		if err != nil {
			return nil, err
		}
		a.add("voice-"+name, b, false)
		at[phrase] = a.address("voice-" + name)
	}
	for i, n := range spokenNumbers {
		at[strconv.Itoa(i+1)] = at[n]
	}
	return at, nil
}
