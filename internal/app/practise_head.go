package app

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"seatproof/head"
	"seatproof/internal/store/archive"
	"seatproof/internal/store/mem"
)

// layoutWords are the words that may follow cylinders and valves.
const layoutWords = "vee, flat, bank=2, one-side, intake=valve, intake=pairs, intake=centre and the same of exhaust"

// practiceHead returns the head to practise on: laid out as "4x4" or
// "3x2,vee,exhaust=pairs" says, or the one in a file that an export wrote.
func practiceHead(ctx context.Context, text string) (head.Job, error) {
	if strings.HasSuffix(strings.ToLower(text), ".zip") {
		return exportedHead(ctx, text)
	}
	parts := strings.FieldsFunc(strings.ReplaceAll(strings.ToLower(text), "×", "x"), func(r rune) bool { return r == ',' || r == ' ' })
	if len(parts) == 0 {
		return head.Job{}, errors.New("no head is given")
	}
	c, v, ok := strings.Cut(parts[0], "x")
	cylinders, err1 := strconv.Atoi(c)
	valves, err2 := strconv.Atoi(v)
	if !ok || err1 != nil || err2 != nil {
		return head.Job{}, fmt.Errorf("%q is no head", text)
	}
	s := head.Scheme{Form: head.FormInline, Cylinders: cylinders, Valves: valves}
	for _, w := range parts[1:] {
		if err := layoutWord(&s, w); err != nil {
			return head.Job{}, err
		}
	}
	j, f := head.Layout(s)
	return j, f.Err()
}

func layoutWord(s *head.Scheme, word string) error {
	gathers := map[string]head.Gather{"each": head.PortEach, "valve": head.PortValve, "pairs": head.PortPairs, "centre": head.PortCentre}
	key, value, _ := strings.Cut(word, "=")
	g, isGather := gathers[value]
	switch {
	case word == "inline":
		s.Form = head.FormInline
	case word == "vee":
		s.Form = head.FormVee
	case word == "flat":
		s.Form = head.FormFlat
	case word == "bank=1", word == "bank=2":
		s.Bank = int(value[0] - '0')
	case word == "one-side":
		s.SameSide = true
	case key == "intake" && isGather:
		s.Intake = g
	case key == "exhaust" && isGather:
		s.Exhaust = g
	default:
		return fmt.Errorf("%q says nothing of a layout", word)
	}
	return nil
}

// exportedHead reads the head of an export, and leaves no trace of it.
func exportedHead(ctx context.Context, name string) (head.Job, error) {
	f, err := os.Open(name)
	if err != nil {
		return head.Job{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return head.Job{}, err
	}
	s := mem.New()
	defer s.Close()
	in, err := archive.Import(ctx, s, f, info.Size(), archive.Options{NewID: newID})
	if err != nil {
		return head.Job{}, err
	}
	return findJob(ctx, s, in.JobID)
}
