package num

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// strd is one NIST reference data set, parsed.
type strd struct {
	name      string
	start     [2][]float64
	certified []float64
	sd        []float64
	rss       float64
	dof       int
	y         []float64
	x         [][]float64
}

// strdModels are the models as the files state them.
var strdModels = map[string]func(b, x []float64) float64{
	"Bennett5": func(b, x []float64) float64 { return b[0] * math.Pow(b[1]+x[0], -1/b[2]) },
	"BoxBOD":   misra1a,
	"Chwirut1": chwirut, "Chwirut2": chwirut,
	"DanWood": func(b, x []float64) float64 { return b[0] * math.Pow(x[0], b[1]) },
	"ENSO": func(b, x []float64) float64 {
		w := 2 * math.Pi * x[0]
		return b[0] + b[1]*math.Cos(w/12) + b[2]*math.Sin(w/12) +
			b[4]*math.Cos(w/b[3]) + b[5]*math.Sin(w/b[3]) +
			b[7]*math.Cos(w/b[6]) + b[8]*math.Sin(w/b[6])
	},
	"Eckerle4": func(b, x []float64) float64 {
		u := (x[0] - b[2]) / b[1]
		return b[0] / b[1] * math.Exp(-0.5*u*u)
	},
	"Gauss1": gauss, "Gauss2": gauss, "Gauss3": gauss,
	"Hahn1":    cubics,
	"Kirby2":   func(b, x []float64) float64 { return poly(x[0], b[0], b[1], b[2]) / poly(x[0], 1, b[3], b[4]) },
	"Lanczos1": lanczos, "Lanczos2": lanczos, "Lanczos3": lanczos,
	"MGH09":    func(b, x []float64) float64 { return b[0] * poly(x[0], 0, b[1], 1) / poly(x[0], b[3], b[2], 1) },
	"MGH10":    func(b, x []float64) float64 { return b[0] * math.Exp(b[1]/(x[0]+b[2])) },
	"MGH17":    func(b, x []float64) float64 { return b[0] + b[1]*math.Exp(-x[0]*b[3]) + b[2]*math.Exp(-x[0]*b[4]) },
	"Misra1a":  misra1a,
	"Misra1b":  func(b, x []float64) float64 { return b[0] * (1 - math.Pow(1+b[1]*x[0]/2, -2)) },
	"Misra1c":  func(b, x []float64) float64 { return b[0] * (1 - 1/math.Sqrt(1+2*b[1]*x[0])) },
	"Misra1d":  func(b, x []float64) float64 { return b[0] * b[1] * x[0] / (1 + b[1]*x[0]) },
	"Nelson":   func(b, x []float64) float64 { return b[0] - b[1]*x[0]*math.Exp(-b[2]*x[1]) },
	"Rat42":    func(b, x []float64) float64 { return b[0] / (1 + math.Exp(b[1]-b[2]*x[0])) },
	"Rat43":    func(b, x []float64) float64 { return b[0] / math.Pow(1+math.Exp(b[1]-b[2]*x[0]), 1/b[3]) },
	"Roszman1": func(b, x []float64) float64 { return b[0] - b[1]*x[0] - math.Atan(b[2]/(x[0]-b[3]))/math.Pi },
	"Thurber":  cubics,
}

func misra1a(b, x []float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x[0])) }

func chwirut(b, x []float64) float64 { return math.Exp(-b[0]*x[0]) / (b[1] + b[2]*x[0]) }

func cubics(b, x []float64) float64 {
	return poly(x[0], b[0], b[1], b[2], b[3]) / poly(x[0], 1, b[4], b[5], b[6])
}

func lanczos(b, x []float64) float64 {
	return b[0]*math.Exp(-b[1]*x[0]) + b[2]*math.Exp(-b[3]*x[0]) + b[4]*math.Exp(-b[5]*x[0])
}

func gauss(b, x []float64) float64 {
	bump := func(a, m, s float64) float64 { return a * math.Exp(-(x[0]-m)*(x[0]-m)/(s*s)) }
	return b[0]*math.Exp(-b[1]*x[0]) + bump(b[2], b[3], b[4]) + bump(b[5], b[6], b[7])
}

func poly(x float64, c ...float64) float64 {
	sum := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		sum = sum*x + c[i]
	}
	return sum
}

// readStrd parses a file by the layout that its head describes.
func readStrd(t *testing.T, path string) strd {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	set := strd{name: strings.TrimSuffix(filepath.Base(path), ".dat")}
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		line := lines.Text()
		bad := func(err error) {
			if err != nil {
				t.Fatalf("%s line %d: %v", path, n, err)
			}
		}
		number := func(s string) float64 {
			v, err := strconv.ParseFloat(s, 64)
			bad(err)
			return v
		}
		after := func(head string) (float64, bool) {
			s, ok := strings.CutPrefix(strings.TrimSpace(line), head)
			if !ok {
				return 0, false
			}
			return number(strings.TrimSpace(s)), true
		}
		fields := strings.Fields(strings.Replace(line, "=", " = ", 1))
		switch {
		case n >= 41 && n < 60 && len(fields) == 6 && strings.HasPrefix(fields[0], "b") && fields[1] == "=":
			set.start[0] = append(set.start[0], number(fields[2]))
			set.start[1] = append(set.start[1], number(fields[3]))
			set.certified = append(set.certified, number(fields[4]))
			set.sd = append(set.sd, number(fields[5]))
		case n > 60 && len(fields) > 0:
			row := make([]float64, len(fields))
			for i, s := range fields {
				row[i] = number(s)
			}
			set.y, set.x = append(set.y, row[0]), append(set.x, row[1:])
		default:
			if v, ok := after("Residual Sum of Squares:"); ok {
				set.rss = v
			}
			if v, ok := after("Degrees of Freedom:"); ok {
				set.dof = int(v)
			}
		}
	}
	if set.name == "Nelson" {
		for i := range set.y {
			set.y[i] = math.Log(set.y[i])
		}
	}
	if set.name == "Rat43" && set.dof == 9 {
		set.dof = 11 // a misprint of the file: its residual sd is for 15 - 4
	}
	if len(set.certified) == 0 || set.rss == 0 || len(set.y)-len(set.certified) != set.dof {
		t.Fatalf("%s: %d parameters, %d points, %d degrees of freedom: parsed wrongly", path, len(set.certified), len(set.y), set.dof)
	}
	return set
}

func (s strd) problem() Problem {
	model := strdModels[s.name]
	return Problem{N: len(s.y), Residuals: func(p, r []float64) {
		for i := range r {
			r[i] = s.y[i] - model(p, s.x[i])
		}
	}}
}

// digits is the number of correct digits (log relative error) of the worst.
func digits(got, want []float64) float64 {
	worst := 11.0 // as many as are certified
	for i := range want {
		worst = math.Min(worst, -math.Log10(math.Abs(got[i]-want[i])/math.Abs(want[i])))
	}
	return worst
}

func allStrd(t *testing.T) []strd {
	paths, err := filepath.Glob("testdata/strd/*.dat")
	if err != nil || len(paths) != 27 {
		t.Fatalf("%d data sets (%v), want 27", len(paths), err)
	}
	var sets []strd
	for _, p := range paths {
		set := readStrd(t, p)
		if strdModels[set.name] == nil {
			t.Fatalf("no model for %s", set.name)
		}
		sets = append(sets, set)
	}
	return sets
}

// Every second start must come to the certified values: parameters to 6 digits,
// standard deviations to 5, residual sum to 9. Lanczos1 is exact data, its
// residuals are rounding: there only the parameters mean something.
func TestStrd(t *testing.T) {
	for _, set := range allStrd(t) {
		for k := range 2 {
			name := fmt.Sprintf("%s start %d", set.name, k+1)
			f, err := LeastSquares(set.problem(), set.start[k])
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			sd := make([]float64, len(f.P))
			for i := range sd {
				sd[i] = f.SD(i)
			}
			p, s, rss := digits(f.P, set.certified), digits(sd, set.sd), digits([]float64{f.RSS}, []float64{set.rss})
			t.Logf("%s: digits of parameters %.1f, sd %.1f, sum %.1f; %s after %d iterations, %d calls", name, p, s, rss, f.Why, f.Iterations, f.Calls)
			if k == 0 && strdLost[set.name] {
				if f.Converged {
					t.Errorf("%s: taken for a minimum at %v, want it refused", name, f.P)
				}
				continue
			}
			if !f.Converged || f.Why != Minimum {
				t.Errorf("%s: %s after %d iterations, want a minimum", name, f.Why, f.Iterations)
			}
			if p < 6 {
				t.Errorf("%s: parameters %v, want %v: %.1f digits", name, f.P, set.certified, p)
			}
			if set.name == "Lanczos1" {
				if f.RSS > 1e-20 {
					t.Errorf("%s: residual sum %g, want rounding only", name, f.RSS)
				}
				continue
			}
			if s < 5 {
				t.Errorf("%s: standard deviations %v, want %v: %.1f digits", name, sd, set.sd, s)
			}
			if rss < 9 {
				t.Errorf("%s: residual sum %.12g, want %.12g", name, f.RSS, set.rss)
			}
		}
	}
}

// strdLost are the far first starts from which this method does not get home: it
// must say so. BoxBOD's leads most programs astray, MINPACK's among them; MGH10's
// is a long curved valley, which MINPACK gets through.
var strdLost = map[string]bool{"BoxBOD": true, "MGH10": true}

// Several starts find what the far one alone does not, and alone it is reported.
func TestStrdMultiStart(t *testing.T) {
	for _, set := range allStrd(t) {
		if !strdLost[set.name] {
			continue
		}
		best, all, err := MultiStart(set.problem(), set.start[:])
		if err != nil {
			t.Fatal(err)
		}
		if d := digits(best.P, set.certified); !best.Converged || d < 6 || len(all) != 2 || best != all[1] {
			t.Errorf("%s, both starts: %v converged %v, %.1f digits, want the second start's", set.name, best.P, best.Converged, d)
		}
		best, _, err = MultiStart(set.problem(), set.start[:1])
		if err != nil {
			t.Fatal(err)
		}
		if best.Converged {
			t.Errorf("%s, far start alone: %v taken for a minimum", set.name, best.P)
		}
	}
	// BoxBOD is found from made-up starts of the right order, one of them the bad one
	for _, set := range allStrd(t) {
		if set.name != "BoxBOD" {
			continue
		}
		best, _, err := MultiStart(set.problem(), [][]float64{{1, 1}, {200, 0.1}, {200, 3}})
		if err != nil || !best.Converged || digits(best.P, set.certified) < 6 {
			t.Errorf("BoxBOD from guesses: %+v, %v", best, err)
		}
	}
}
