package study

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"syscall"
	"testing"
	"time"
)

func TestProbe(t *testing.T) {
	if os.Getenv("PROBE") == "" {
		t.Skip()
	}
	bins := [][2]float64{{2, 20}, {20, 200}, {200, 2000}, {2000, 4000}}
	n, _ := strconv.Atoi(os.Getenv("PROBE"))
	from, _ := strconv.Atoi(os.Getenv("FROM"))
	for i := from; i < from+n; i++ {
		b := bins[i%4]
		r := rand.New(rand.NewPCG(77, uint64(i)))
		tr, g, x, err := Draw(r, Family{Low: b[0], High: b[1], Mix: i%8 >= 4, Vapour: i%8 >= 4})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Printf("#%d truth %.2f s %.2f tau %.2f mix %.2f lag %.3f noise %.0f step %.0f rate %.0f V %.0f vap %.0f\n", i, tr.Flow/cm3min, tr.Share, tr.Tau, tr.Mix, tr.Lag, tr.Noise, tr.Step, tr.Rate, tr.Volume*1e6, tr.Vapour)
		cpu := func() float64 {
			var u syscall.Rusage
			syscall.Getrusage(0, &u)
			return float64(u.Utime.Sec) + float64(u.Utime.Usec)/1e6
		}
		for _, seed := range []uint64{1, 2} {
			t0, c0 := time.Now(), cpu()
			y, err := Brute(tr, g, x, BruteOptions{Seed: seed})
			fmt.Printf("   %.3f [%.3f %.3f] w %.4f s %.3f [%.3f %.3f] tau %.2f | R %.4f %.4f ESS %.0f conv %v calls %d stages %d n %d noise %.1f chi %.2f taken %.2f %.1fs cpu %.1f %v\n",
				y.Median/cm3min, y.Low/cm3min, y.High/cm3min, (y.High-y.Low)/cm3min, y.Share.Median, y.Share.Low, y.Share.High, y.Tau,
				y.RHat, y.ShareRHat, y.Effective, y.Converged, y.Calls, y.Stages, y.Samples, y.Noise, y.ChiSquare, y.Taken, time.Since(t0).Seconds(), cpu()-c0, err)
		}
	}
}
