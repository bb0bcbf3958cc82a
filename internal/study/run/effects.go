package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"seatproof/internal/study"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// practices prints how the readings of ports hold that do what real ports do, n
// traces of each effect in each of three strengths.
func practices(n int, like string, seed uint64) {
	fmt.Printf("\nwhat real ports and rigs do beside (%d traces each, 2 to 2000 cm³/min, seed %d)\n", n, seed)
	fmt.Println("| effect | strength | answered | interval holds | rightly warned | either | other warnings | kinds named, wrong |")
	fmt.Println("| --- | --- | --- | --- | --- | --- | --- | --- |")
	for _, p := range rig.PracticeTable() {
		if strings.HasPrefix(p.Name, "gauge-") || !strings.Contains(p.Name, like) { // a gauge's own are in every trace of the study
			continue
		}
		for _, x := range p.Strengths() {
			f := study.Family{Low: 2, High: 2000, Practice: &p, Strength: x}
			right := study.RightWarnings(p.Name)
			signs(p.Name, unit.Significant(x, 2), study.CountSigns(study.Run(f, n, seed), right), right)
			if study.Wets(p.Name) {
				f.Told = true
				signs(p.Name+", told", unit.Significant(x, 2), study.CountSigns(study.Run(f, n, seed), right), right)
			}
		}
	}
}

// off prints the same for what the estimator's model does not hold.
func off(n int, seed uint64) {
	fmt.Printf("\nwhat the model does not hold, or was not told (%d traces each, seed %d)\n", n, seed)
	fmt.Println("| off | leak, cm³/min | answered | interval holds | rightly warned | either | other warnings | kinds named, wrong |")
	fmt.Println("| --- | --- | --- | --- | --- | --- | --- | --- |")
	for _, o := range study.OffAll() {
		for _, b := range [][2]float64{{2, 200}, {200, 4000}} {
			f := study.Family{Low: b[0], High: b[1], Off: o}
			signs(string(o), fmt.Sprintf("%g to %g", b[0], b[1]), study.CountSigns(study.Run(f, n, seed), study.RightWarnings(string(o))), study.RightWarnings(string(o)))
		}
	}
}

func signs(name, strength string, s study.Signs, right []leak.WarningCode) {
	var others []string
	for code, k := range s.Codes {
		if !slices.Contains(right, code) {
			others = append(others, fmt.Sprintf("%s %d", code, k))
		}
	}
	slices.Sort(others)
	warned := "–"
	if len(right) > 0 {
		warned = rate(s.Warned, s.Answered)
	}
	fmt.Printf("| %s | %s | %d of %d | %s | %s | %s | %s | %d, %s |\n", name, strength, s.Answered, s.Drawn,
		rate(s.Held, s.Answered), warned, rate(s.Either, s.Answered), strings.Join(others, ", "), s.Named, rate(s.NamedWrong, s.Named))
	fmt.Fprintf(os.Stderr, "%s %s\n", name, strength)
}
