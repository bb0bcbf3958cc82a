#!/usr/bin/env bash
# compare.sh [FILE] solves the same cycles by package engine and by SUNDIALS CVODE
# (Adams and BDF), in turns, and prints a table of work against precision: the
# processor time at which each first comes, and stays, under an error of peak and
# trapped mass. FILE keeps every line. Not part of the tests: make bench-engine.
set -euo pipefail
cd "$(dirname "$0")/../../.."
keep=${1:-out/bench-engine.txt}
mkdir -p "$(dirname "$keep")"
tools/need.sh gcc gcc libc6-dev
if [ ! -e /usr/include/cvode/cvode.h ]; then
	tools/need.sh no-cvode-here libsundials-dev
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cases=engine/testdata/cycles.json
go build -o "$work/engine" ./internal/study/engine
gcc -O3 -march=native -o "$work/cvode" internal/study/engine/cvode/cvode.c -lsundials_cvode -lsundials_nvecserial -lsundials_sunmatrixdense -lsundials_sunlinsoldense -lsundials_sunnonlinsolfixedpoint -lm
"$work/engine" cases "$cases" >"$work/cases"
{
	echo "# $(date -u +%F), $(uname -m), $(nproc) cores, load $(cut -d' ' -f1-3 /proc/loadavg)"
	echo "# solver case tolerance us peak trapped work calls"
	for turn in 1 2 3; do
		"$work/engine" time "$cases"
		"$work/cvode" <"$work/cases"
	done
	echo "# load at the end $(cut -d' ' -f1-3 /proc/loadavg)"
} >"$keep"
grep '^#' "$keep"
"$work/engine" table "$keep"
