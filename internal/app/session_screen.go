package app

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/term"

	"seatproof/internal/session"
	"seatproof/internal/web"
)

// screenEvery is how often the screen is drawn at most.
const screenEvery = 100 * time.Millisecond

// blocks are figures of five rows that are read from across a room.
var blocks = map[rune][5]string{
	'0': {"█▀▀▀█", "█   █", "█   █", "█   █", "█▄▄▄█"}, '1': {"  ▄█ ", "   █ ", "   █ ", "   █ ", "  ▄█▄"},
	'2': {"▀▀▀▀█", "    █", "█▀▀▀▀", "█    ", "█▄▄▄▄"}, '3': {"▀▀▀▀█", "    █", " ▀▀▀█", "    █", "▄▄▄▄█"},
	'4': {"█   █", "█   █", "▀▀▀▀█", "    █", "    █"}, '5': {"█▀▀▀▀", "█    ", "▀▀▀▀█", "    █", "▄▄▄▄█"},
	'6': {"█▀▀▀▀", "█    ", "█▀▀▀█", "█   █", "█▄▄▄█"}, '7': {"▀▀▀▀█", "    █", "   █ ", "  █  ", "  █  "},
	'8': {"█▀▀▀█", "█   █", "█▀▀▀█", "█   █", "█▄▄▄█"}, '9': {"█▀▀▀█", "█   █", "▀▀▀▀█", "    █", "▄▄▄▄█"},
	'.': {"  ", "  ", "  ", "  ", "▄ "}, '-': {"    ", "    ", "▀▀▀ ", "    ", "    "}, '–': {"     ", "     ", "▀▀▀▀▀", "     ", "     "},
}

// large writes a figure in rows of blocks.
func large(figure string) []string {
	rows := make([]string, 5)
	for _, c := range figure {
		b, ok := blocks[c]
		if !ok {
			continue
		}
		for i := range rows {
			rows[i] += b[i] + " "
		}
	}
	return rows
}

// screen is what a terminal shows of a run.
type screen struct {
	said   []string
	refile bool // a port's letter is awaited
	leave  bool // how to end is asked
}

// portLetters choose a port.
const portLetters = "123456789abcdefghijklmnopqrstuvwxyz"

// lines are the rows of a screen of that width and height.
func (x *screen) lines(s web.LiveScreen, width, height int) []string {
	title := "Head " + s.Head
	if s.Practise {
		title += ", practice"
	}
	out := []string{title, ""}
	out = append(out, s.Target, s.Step, "")
	figure := s.Vacuum
	if figure == "" {
		figure = "–"
	}
	rows := large(figure)
	rows[4] += " " + s.Unit
	out = append(out, rows...)
	out = append(out, "", s.Says+s.Hold, "")
	out = append(out, x.said[max(0, len(x.said)-3):]...)
	foot := []string{"", "n next  a again  r refile  s shut off  k skip  q end"}
	if s.Next != "" {
		foot[1] = "n next: " + s.Next + "  a again  r refile  s shut off  k skip  q end"
	}
	switch {
	case x.refile:
		foot = []string{"", "The last test belongs to:"}
		for i, p := range s.Ports {
			if i < len(portLetters) {
				foot = append(foot, " "+portLetters[i:i+1]+"  "+p[1])
			}
		}
		foot = append(foot, "any other key: leave it where it is")
	case x.leave:
		foot = []string{"", "End the session?  e end it   l leave it, to go on another time   any other key: go on"}
	}
	if s.Trouble != "" {
		foot = append([]string{"", s.Trouble}, foot...)
	}
	room := height - 1 - len(out) - len(foot)
	for i := 0; i < len(s.Filed) && i < room-1; i++ {
		if i == 0 {
			out = append(out, "")
		}
		out = append(out, s.Filed[i])
	}
	out = append(out, foot...)
	if len(out) > height-1 { // what asks for a key must be seen
		out = append(out[:max(0, height-1-len(foot))], foot...)
	}
	for i, row := range out {
		if utf8.RuneCountInString(row) > width {
			out[i] = string([]rune(row)[:width])
		}
	}
	return out
}

// key takes a key that was pressed; it says what to do, and whether to leave.
func (x *screen) key(c byte, ports [][2]string) (k session.Key, press, leave bool) {
	switch {
	case c == 3: // Ctrl-C, which a raw terminal hands on
		return k, false, true
	case x.refile:
		x.refile = false
		if i := strings.IndexByte(portLetters, c); i >= 0 && i < len(ports) {
			return session.Key{Do: session.Refile, Port: ports[i][0]}, true, false
		}
		return k, false, false
	case x.leave:
		x.leave = false
		return session.Key{Do: session.Finish}, c == 'e', c == 'l'
	}
	switch c {
	case 'n', '\r', '\n', ' ':
		return session.Key{Do: session.Next}, true, false
	case 'a':
		return session.Key{Do: session.Again}, true, false
	case 's':
		return session.Key{Do: session.ShutOff}, true, false
	case 'k':
		return session.Key{Do: session.Skip}, true, false
	case 'r':
		x.refile = true
	case 'q', 27:
		x.leave = true
	}
	return k, false, false
}

// sessionScreen runs a session on a terminal, until it is over or left.
func (a *App) sessionScreen(ctx context.Context, l *live, sheets *web.Server, reader web.LiveReader, in, out *os.File) error {
	old, err := term.MakeRaw(int(in.Fd()))
	if err != nil {
		return a.sessionLines(ctx, l, sheets, reader, in)
	}
	fmt.Fprint(out, "\x1b[?1049h\x1b[?25l") // a page of its own, no cursor
	over, err := a.sessionKeys(ctx, l, sheets, reader, in, out)
	fmt.Fprint(out, "\x1b[?25h\x1b[?1049l")
	_ = term.Restore(int(in.Fd()), old)
	if err == nil && over {
		err = a.sessionEnded(ctx, l, sheets, reader)
	}
	return err
}

// sessionKeys draws a session and takes its keys, until it is over or left.
func (a *App) sessionKeys(ctx context.Context, l *live, sheets *web.Server, reader web.LiveReader, in, out *os.File) (over bool, err error) {
	keys := make(chan byte)
	quit, end := context.WithCancel(ctx)
	defer end()
	go func() { // ends with the program: a read from a terminal can't be called off
		var b [1]byte
		for {
			n, err := in.Read(b[:])
			if err != nil {
				return
			}
			if n == 0 {
				continue
			}
			select {
			case keys <- b[0]:
			case <-quit.Done():
				return
			}
		}
	}()
	var x screen
	var s web.LiveScreen
	tick := time.NewTicker(screenEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return false, nil
		case c := <-keys:
			k, press, leave := x.key(c, s.Ports)
			if leave {
				return false, nil
			}
			if press {
				if err := l.Key(ctx, k); err != nil {
					return false, err
				}
			}
		case <-tick.C:
		}
		s, _ = sheets.LiveScreen(ctx, reader.Take())
		if s.Over {
			return true, nil
		}
		x.said = append(x.said, s.Said...)
		x.said = x.said[max(0, len(x.said)-10):]
		width, height, err := term.GetSize(int(out.Fd()))
		if err != nil {
			width, height = 80, 24
		}
		draw(out, x.lines(s, width, height))
	}
}

// draw puts rows on a screen without clearing it first, which would flicker.
func draw(w io.Writer, rows []string) {
	var b strings.Builder
	b.WriteString("\x1b[H")
	for _, r := range rows {
		b.WriteString(r + "\x1b[K\r\n")
	}
	b.WriteString("\x1b[J")
	_, _ = io.WriteString(w, b.String())
}
