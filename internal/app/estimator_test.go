package app

import (
	"strings"
	"testing"
)

func TestEstimator(t *testing.T) {
	if got := estimator("1.2.0"); got != "1.2.0" {
		t.Errorf("a release computes as %q, want 1.2.0", got)
	}
	// Tests are built without a commit: what is left is when.
	if got := estimator("1.2.0-dev"); !strings.HasPrefix(got, "1.2.0-dev+") || got != estimator("1.2.0-dev") {
		t.Errorf("a build between releases computes as %q", got)
	}
}
