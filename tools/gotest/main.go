// Command gotest runs go test and fails when a test was skipped, which go test
// itself calls passed. Packages' summary lines and the output of what failed
// are printed as go test prints them.
//
//	gotest [-dir DIR] [-allow-skips] [--] FLAGS AND PACKAGES OF GO TEST...
//
// Skips are allowed outside CI: with -allow-skips they are listed only. With
// the environment's CI=true they are never allowed.
package main

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"strings"
)

type event struct {
	Action, Package, Test, Output string
}

func main() {
	dir := flag.String("dir", ".", "folder of the module to test")
	allow := flag.Bool("allow-skips", false, "list skipped tests, don't fail on them (never where CI is set)")
	flag.Parse()
	os.Exit(run(*dir, *allow && os.Getenv("CI") == "", flag.Args()))
}

func run(dir string, allow bool, args []string) int {
	cmd := exec.Command("go", append([]string{"test", "-json"}, args...)...)
	cmd.Dir = dir
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "gotest:", err)
		return 2
	}
	type key struct{ pkg, test string }
	said := map[key]*strings.Builder{}
	var skipped []string
	passed, failed := 0, 0
	lines := bufio.NewScanner(out)
	lines.Buffer(nil, 16<<20)
	for lines.Scan() {
		var e event
		if json.Unmarshal(lines.Bytes(), &e) != nil {
			fmt.Println(lines.Text()) // a build error, as go writes it
			continue
		}
		k := key{e.Package, e.Test}
		if said[k] == nil {
			said[k] = &strings.Builder{}
		}
		switch e.Action {
		case "output":
			said[k].WriteString(e.Output)
			if e.Test == "" && summary(e.Output) {
				fmt.Print(e.Output)
			}
		case "build-output":
			fmt.Print(e.Output)
		case "pass":
			if e.Test != "" {
				passed++
			}
			delete(said, k)
		case "skip":
			if e.Test != "" {
				skipped = append(skipped, e.Package+" "+e.Test+": "+reason(said[k].String()))
			}
			delete(said, k)
		case "fail":
			failed++
			fmt.Print(said[k].String())
			delete(said, k)
		}
	}
	err = cmd.Wait()
	for _, s := range skipped {
		fmt.Println("skipped:", s)
	}
	fmt.Printf("gotest: %d passed, %d failed, %d skipped\n", passed, failed, len(skipped))
	switch {
	case err != nil || failed > 0 || lines.Err() != nil:
		return 1
	case passed == 0:
		fmt.Fprintln(os.Stderr, "gotest: no test ran")
		return 1
	case len(skipped) > 0 && !allow:
		fmt.Fprintln(os.Stderr, "gotest: a skipped test is no passed test: install what it needs")
		return 1
	default:
		return 0
	}
}

// summary says whether a package's line is one a person wants to see.
func summary(line string) bool {
	return strings.HasPrefix(line, "ok ") || strings.HasPrefix(line, "ok\t") || strings.HasPrefix(line, "FAIL") ||
		strings.HasPrefix(line, "---") || strings.HasPrefix(line, "panic") || strings.HasPrefix(line, "?")
}

// reason finds why a test was skipped in its output.
func reason(out string) string {
	for _, line := range strings.Split(out, "\n") {
		if s := strings.TrimSpace(line); s != "" && !strings.HasPrefix(s, "===") && !strings.HasPrefix(s, "---") {
			return s
		}
	}
	return "no reason given"
}
