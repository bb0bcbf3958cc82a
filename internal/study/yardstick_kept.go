package study

import (
	"encoding/csv"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"os"
	"strconv"

	"seatproof/rig"
	"seatproof/trace"
)

// Kept is what is kept of a yardstick: flows in m³/s.
type Kept struct {
	Median, Low, High, Upper         float64
	ShareMedian, ShareLow, ShareHigh float64
	RHat, Effective, Seconds         float64
	Calls                            int
	Converged                        bool
}

// yardstickVersion is raised with every change to the yardstick that moves its
// figures, so that kept ones of before are computed again.
const yardstickVersion = 3

// fingerprint tells a trace with its rig, its truth and how hard the yardstick
// works on it from all others.
func fingerprint(t Truth, g rig.Rig, tr *trace.Trace, o BruteOptions) string {
	h := fnv.New64a()
	o.Seed = 0
	fmt.Fprintf(h, "%d %v %v %v %v %v", yardstickVersion, o, t, g, tr.Time, tr.Value)
	return strconv.FormatUint(h.Sum64(), 16)
}

// keptColumns is the header of the file of yardsticks.
var keptColumns = []string{
	"trace", "index", "seed", "truth_m3_s", "median_m3_s", "low_m3_s", "high_m3_s", "upper_m3_s",
	"share_truth", "share_median", "share_low", "share_high", "r_hat", "effective", "seconds", "calls", "converged",
}

// readKept reads the file of yardsticks; a line that a stopped run left
// unfinished is passed over.
func readKept(file string) (map[string]Kept, error) {
	kept := map[string]Kept{}
	if file == "" {
		return kept, nil
	}
	f, err := os.Open(file)
	if errors.Is(err, os.ErrNotExist) {
		return kept, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read yardsticks: %w", err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	for {
		row, err := r.Read()
		if err == io.EOF {
			return kept, nil
		}
		if err != nil {
			return nil, fmt.Errorf("read yardsticks: %s: %w", file, err)
		}
		if len(row) != len(keptColumns) || row[0] == keptColumns[0] {
			continue
		}
		figures := make([]float64, len(row))
		whole := true
		for i, s := range row[3:16] {
			v, err := strconv.ParseFloat(s, 64)
			whole = whole && err == nil
			figures[i+3] = v
		}
		settled, err := strconv.ParseBool(row[16])
		if !whole || err != nil {
			continue
		}
		kept[row[0]] = Kept{
			Median: figures[4], Low: figures[5], High: figures[6], Upper: figures[7],
			ShareMedian: figures[9], ShareLow: figures[10], ShareHigh: figures[11],
			RHat: figures[12], Effective: figures[13], Seconds: figures[14], Calls: int(figures[15]), Converged: settled,
		}
	}
}

// keep appends one yardstick to the file, on a line of its own even where a
// stopped run left half a line.
func keep(file, key string, i int, seed uint64, p Pair) (err error) {
	f, err := os.OpenFile(file, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return fmt.Errorf("keep yardstick %d: %w", i, err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := csv.NewWriter(f)
	if info, err := f.Stat(); err == nil && info.Size() == 0 {
		if err := w.Write(keptColumns); err != nil {
			return fmt.Errorf("keep yardstick %d: %w", i, err)
		}
	} else if err == nil {
		var last [1]byte
		if _, err := f.ReadAt(last[:], info.Size()-1); err == nil && last[0] != '\n' {
			if _, err := f.WriteString("\n"); err != nil {
				return fmt.Errorf("keep yardstick %d: %w", i, err)
			}
		}
	}
	row := []string{key, strconv.Itoa(i), strconv.FormatUint(seed, 10)}
	b := p.Brute
	for _, v := range []float64{
		p.Truth.Flow, b.Median, b.Low, b.High, b.Upper, p.Truth.Share, b.ShareMedian, b.ShareLow, b.ShareHigh,
		b.RHat, b.Effective, b.Seconds, float64(b.Calls),
	} {
		row = append(row, strconv.FormatFloat(v, 'g', 9, 64))
	}
	if err := w.Write(append(row, strconv.FormatBool(b.Converged))); err != nil {
		return fmt.Errorf("keep yardstick %d: %w", i, err)
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return fmt.Errorf("keep yardstick %d: %w", i, err)
	}
	return nil
}
