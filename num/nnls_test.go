package num

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Closed cases, worked by hand.
func TestNNLSClosed(t *testing.T) {
	for _, c := range []struct {
		name    string
		columns int
		a, b, w []float64
		x       []float64
		rss     float64
	}{
		{"one figure", 1, []float64{1, 1}, []float64{2, 4}, nil, []float64{3}, 2},
		{"one figure, weighted 3 to 1", 1, []float64{1, 1}, []float64{2, 4}, []float64{3, 1}, []float64{2.5}, 3},
		{"one that would be below zero", 1, []float64{1, 1}, []float64{-2, 1}, nil, []float64{0}, 5},
		{"the identity: what is below zero is cut", 3, []float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, []float64{2, -3, 5}, nil, []float64{2, 0, 5}, 9},
		// the plain solution is (-1/3, 4/3, ...): with the first at zero the second is the mean of both rows
		{"one at zero moves the other", 2, []float64{1, 1, 0, 1, 1, 0}, []float64{1, 2, -1}, nil, []float64{0, 1.5}, 1.5},
		// open 30, left masked 10, right masked 20, both masked 0: exact
		{"two valves", 3, []float64{1, 1, 1, 0, 1, 1, 1, 0, 1, 0, 0, 1}, []float64{30, 10, 20, 0}, nil, []float64{20, 10, 0}, 0},
		{"no figures at all", 2, []float64{1, 2, 3, 4}, []float64{0, 0}, nil, []float64{0, 0}, 0},
		{"a column of zeros", 2, []float64{0, 1, 0, 2}, []float64{1, 2}, nil, []float64{0, 1}, 0},
		{"a row of zeros", 1, []float64{1, 0}, []float64{4, 7}, nil, []float64{4}, 49},
		{"a weight of zero", 1, []float64{1, 1}, []float64{4, 700}, []float64{1, 0}, []float64{4}, 0},
	} {
		got, err := NNLS(c.a, c.columns, c.b, c.w)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		for j := range c.x {
			near(t, c.name, got.X[j], c.x[j], 1e-12)
		}
		near(t, c.name+": squares", got.RSS, c.rss, 1e-11)
		if got.Off > 1e-12 {
			t.Errorf("%s: certificate off by %g, dual %v", c.name, got.Off, got.Dual)
		}
	}
}

// Two columns that are the same share one figure between them, however it is
// parted; more columns than rows are no hindrance.
func TestNNLSAlike(t *testing.T) {
	got, err := NNLS([]float64{1, 1, 2, 2}, 2, []float64{3, 6}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "sum of the two", got.X[0]+got.X[1], 3, 1e-12)
	wide, err := NNLS([]float64{1, 2, 3, 0, 1, 1}, 3, []float64{5, 2}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if wide.RSS > 1e-20 || wide.Off > 1e-12 || math.Min(wide.X[0], math.Min(wide.X[1], wide.X[2])) < 0 {
		t.Errorf("three columns of two rows: %+v", wide)
	}
}

// Against SciPy's nnls: testdata/nnls/make.py.
func TestNNLSAgainstSciPy(t *testing.T) {
	text, err := os.ReadFile("testdata/nnls/nnls.json")
	if err != nil {
		t.Fatal(err)
	}
	var kept struct {
		Cases []struct {
			Name            string
			Columns         int
			A, B, Weight, X []float64
			RSS             float64
		}
	}
	if err := json.Unmarshal(text, &kept); err != nil {
		t.Fatal(err)
	}
	if len(kept.Cases) < 16 {
		t.Fatalf("%d cases", len(kept.Cases))
	}
	for _, c := range kept.Cases {
		got, err := NNLS(c.A, c.Columns, c.B, c.Weight)
		if err != nil {
			t.Fatalf("%s: %v", c.Name, err)
		}
		tol := 1e-9 // of the figure
		if c.Name == "nearly alike" {
			tol = 1e-7 // the columns' condition is 1e5
		}
		for j, want := range c.X {
			near(t, c.Name, got.X[j], want, tol*math.Abs(want)+1e-12)
		}
		near(t, c.Name+": squares", got.RSS, c.RSS, 1e-9*c.RSS+1e-12)
		if got.Off > 1e-11 {
			t.Errorf("%s: certificate off by %g", c.Name, got.Off)
		}
	}
}

// Whatever the problem: no set of free columns does better, and the certificate
// holds. Brute force over all sets by plain least squares.
func TestNNLSAgainstAllSets(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		columns := rapid.IntRange(1, 5).Draw(rt, "columns")
		rows := rapid.IntRange(1, 7).Draw(rt, "rows")
		// whole figures make columns of zeros, columns alike and rows of zeros common
		figure := rapid.OneOf(rapid.Map(rapid.IntRange(-2, 2), func(i int) float64 { return float64(i) }), rapid.Float64Range(-3, 3))
		a := rapid.SliceOfN(figure, rows*columns, rows*columns).Draw(rt, "a")
		b := rapid.SliceOfN(figure, rows, rows).Draw(rt, "b")
		w := rapid.SliceOfN(rapid.Float64Range(0.1, 4), rows, rows).Draw(rt, "weight")
		got, err := NNLS(a, columns, b, w)
		if err != nil {
			rt.Fatal(err)
		}
		best := math.Inf(1)
		for set := range 1 << columns {
			if rss, ok := bySet(a, columns, b, w, set); ok {
				best = math.Min(best, rss)
			}
		}
		if got.RSS > best*(1+1e-9)+1e-9 {
			rt.Fatalf("squares %v, the best set %v", got.RSS, best)
		}
		if got.Off > 1e-9 {
			rt.Fatalf("certificate off by %g: %+v", got.Off, got)
		}
		for _, x := range got.X {
			if x < 0 {
				rt.Fatalf("below zero: %v", got.X)
			}
		}
	})
}

// bySet returns the squares with the columns of a set by normal equations and
// elimination with pivots; false where the set is singular or has a figure below
// zero.
func bySet(a []float64, columns int, b, w []float64, set int) (float64, bool) {
	var which []int
	for j := range columns {
		if set>>j&1 == 1 {
			which = append(which, j)
		}
	}
	n := len(which)
	m := make([][]float64, n)
	for r := range m {
		m[r] = make([]float64, n+1)
		for i := range b {
			for c := range n {
				m[r][c] += w[i] * a[i*columns+which[r]] * a[i*columns+which[c]]
			}
			m[r][n] += w[i] * a[i*columns+which[r]] * b[i]
		}
	}
	for k := range n {
		top := k
		for r := k; r < n; r++ {
			if math.Abs(m[r][k]) > math.Abs(m[top][k]) {
				top = r
			}
		}
		m[k], m[top] = m[top], m[k]
		if math.Abs(m[k][k]) < 1e-9 {
			return 0, false
		}
		for r := range n {
			if r != k {
				f := m[r][k] / m[k][k]
				for c := k; c <= n; c++ {
					m[r][c] -= f * m[k][c]
				}
			}
		}
	}
	x := make([]float64, columns)
	for k, j := range which {
		if x[j] = m[k][n] / m[k][k]; x[j] < 0 {
			return 0, false
		}
	}
	rss := 0.0
	for i := range b {
		r := b[i] - dot(a[i*columns:(i+1)*columns], x)
		rss += w[i] * r * r
	}
	return rss, true
}

func TestNNLSBadInput(t *testing.T) {
	for _, c := range []struct {
		name    string
		columns int
		a, b, w []float64
		want    string
	}{
		{"no rows", 1, nil, nil, nil, "0 rows"},
		{"no columns", 0, nil, []float64{1}, nil, "0 columns"},
		{"columns below zero", -1, nil, []float64{1}, nil, "-1 columns"},
		{"wrong size", 2, []float64{1, 2, 3}, []float64{1}, nil, "3 entries for 1 rows of 2"},
		{"not a number", 2, []float64{1, 2, math.NaN(), 4}, []float64{1, 2}, nil, "row 2, column 1"},
		{"no end", 1, []float64{1}, []float64{math.Inf(1)}, nil, "row 1: +Inf"},
		{"weights short", 1, []float64{1, 1}, []float64{1, 2}, []float64{1}, "1 weights for 2 rows"},
		{"weight below zero", 1, []float64{1}, []float64{1}, []float64{-1}, "weight of -1"},
		{"weight not a number", 1, []float64{1}, []float64{1}, []float64{math.NaN()}, "weight of NaN"},
	} {
		got, err := NNLS(c.a, c.columns, c.b, c.w)
		var bad *FitError
		if !errors.As(err, &bad) || got != nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %+v, %v, want %q", c.name, got, err, c.want)
		}
	}
}
