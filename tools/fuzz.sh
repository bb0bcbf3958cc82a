#!/usr/bin/env bash
# fuzz.sh TIME runs every fuzz target of the module for TIME each: 2m, or 1000x
# for that many inputs (a deadline can cut an input off and fail the run).
set -euo pipefail
time=$1
found=0
while IFS=: read -r file name; do
	package=./$(dirname "$file")
	echo "fuzz $package $name for $time"
	go test -run '^$' -fuzz "^$name\$" -fuzztime "$time" "$package"
	found=$((found + 1))
done < <(find . \( -name node_modules -o -name .git -o -name out \) -prune -o -name '*_test.go' -print | sed 's#^\./##' |
	xargs grep -oE '^func Fuzz[A-Za-z0-9_]+' /dev/null | sed 's/:func /:/' | sort)
if [ "$found" = 0 ]; then
	echo "no fuzz target found: the parsers of this module must have some" >&2
	exit 1
fi
