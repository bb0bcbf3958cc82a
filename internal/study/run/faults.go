package main

import (
	"fmt"
	"os"
	"strings"
	"time"

	"seatproof/check"
	"seatproof/internal/study"
)

// faults prints what the fault finder calls days of each fault, n of each, and
// five times as many sound days: a row a truth, a column a call.
func faults(n int, seed uint64) {
	start := time.Now()
	c := study.CountFaults(n, 5*n, seed)
	if c.Err != nil {
		fmt.Fprintln(os.Stderr, c.Err)
	}
	fmt.Printf("\nfaults of a rig (%d days of each, %d sound days, seed %d)\n", n, 5*n, seed)
	head := []string{"what is wrong", "nothing called"}
	for _, f := range check.FaultCodes {
		head = append(head, check.WordsOf(f).Name)
	}
	fmt.Println("| " + strings.Join(append(head, "called right"), " | ") + " |")
	fmt.Println("|" + strings.Repeat(" --- |", len(head)+1))
	for _, truth := range append([]check.FaultCode{""}, check.FaultCodes...) {
		row := c.Count[truth]
		name, days := "nothing", 5*n
		if truth != "" {
			name, days = check.WordsOf(truth).Name, n
		}
		cells := []string{name}
		for _, called := range append([]check.FaultCode{""}, check.FaultCodes...) {
			if row[called] == 0 {
				cells = append(cells, "")
			} else {
				cells = append(cells, fmt.Sprint(row[called]))
			}
		}
		fmt.Println("| " + strings.Join(append(cells, rate(row[truth], days)), " | ") + " |")
	}
	fmt.Fprintf(os.Stderr, "faults: %.0f s\n", time.Since(start).Seconds())
}
