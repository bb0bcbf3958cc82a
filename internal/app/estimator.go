package app

import (
	"os"
	"runtime/debug"
	"strconv"
	"strings"
)

// estimator names what computes the readings: a release by its version, a build
// between releases by its commit too, and one of changed files, or of no known
// commit, by when it was built. A reading kept by another is computed again.
func estimator(version string) string {
	if !strings.HasSuffix(version, "-dev") {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok {
		commit, clean := "", false
		for _, s := range info.Settings {
			switch s.Key {
			case "vcs.revision":
				commit = s.Value
			case "vcs.modified":
				clean = s.Value == "false"
			}
		}
		if commit != "" && clean {
			return version + "+" + commit
		}
	}
	if name, err := os.Executable(); err == nil {
		if file, err := os.Stat(name); err == nil {
			return version + "+" + strconv.FormatInt(file.ModTime().UnixMilli(), 36)
		}
	}
	return version
}
