package web

import (
	"context"
	"maps"
	"slices"
	"strconv"

	"seatproof/head"
)

// observedHappened says what happened to the figures of other tests of a head, in
// the bin and out of it.
func (s *Server) observedHappened(ctx context.Context, job string, jobs []head.Job) ([]happening, error) {
	var out []happening
	for _, binned := range []bool{false, true} {
		now, err := s.Keeper.List(ctx, Query{Kind: kindObserved, JobID: job, Binned: binned})
		if err != nil {
			return nil, err
		}
		for _, d := range now {
			docs, err := s.Keeper.History(ctx, kindObserved, d.ID)
			if err != nil {
				return nil, err
			}
			events, err := observedEvents(docs, jobs)
			if err != nil {
				return nil, err
			}
			out = append(out, events...)
		}
	}
	return out, nil
}

// observedEvents says what each revision of an observed figure changed.
func observedEvents(docs []Doc, jobs []head.Job) ([]happening, error) {
	var out []happening
	var was head.Observed
	for i, d := range docs {
		k, err := decoded[head.Observed](d)
		if err != nil {
			return nil, err
		}
		is := k.V
		of := observedName(&is, jobs)
		words := of + ", was put right"
		switch {
		case i == 0:
			words = of + ", was entered"
		case d.Binned && !docs[i-1].Binned:
			words = of + ", was put into the bin"
		case !d.Binned && docs[i-1].Binned:
			words = of + ", was taken out of the bin"
		}
		h := happened(d, words)
		if portName(is.PortID, jobs[len(jobs)-1:]) != "no port" { // its sheet is there
			h.Port = is.PortID
		}
		if i > 0 {
			h.Changes = append(h.Changes, observedDifferences(&was, &is, jobs)...)
		}
		out, was = append(out, h), is
	}
	return out, nil
}

// observedName is what was seen, by its test and where: "leak-down, cylinder 2".
func observedName(o *head.Observed, jobs []head.Job) string {
	on := "cylinder " + strconv.Itoa(o.Cylinder)
	if !o.Kind.OfCylinder() {
		on = portName(o.PortID, jobs)
	}
	return observedWord(o.Kind) + ", " + on
}

func observedWord(k head.ObservedKind) string {
	for _, x := range observedKinds {
		if x.Code == string(k) {
			return x.Word
		}
	}
	return string(k)
}

// observedDifferences says in words what a person changed of an observed figure.
func observedDifferences(was, is *head.Observed, jobs []head.Job) []head.Difference {
	var out []head.Difference
	text := func(what, a, b string) {
		if a != b {
			out = append(out, head.Difference{What: what, Was: a, Is: b})
		}
	}
	text("test", observedName(was, jobs), observedName(is, jobs))
	keys := map[string]bool{}
	for k := range was.Fields {
		keys[k] = true
	}
	for k := range is.Fields {
		keys[k] = true
	}
	for _, k := range slices.Sorted(maps.Keys(keys)) {
		name := k
		show := func(o *head.Observed) string {
			for _, x := range observedKinds {
				for _, f := range x.Fields {
					if x.Code == string(o.Kind) && f.Key == k {
						name = f.Name
						if v := wordOf(f.Words, o.Fields[k]); len(f.Words) > 0 && o.Fields[k] != "" {
							return v
						}
					}
				}
			}
			return o.Fields[k]
		}
		a, b := show(was), show(is)
		text(lowerFirst(name), a, b)
	}
	text("note", was.Note, is.Note)
	text("seen at", moment(was.At), moment(is.At))
	text("by", was.By, is.By)
	return out
}
