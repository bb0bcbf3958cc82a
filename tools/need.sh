#!/usr/bin/env bash
# need.sh COMMAND PACKAGE... installs packages with apt when COMMAND is missing
# and says so in one line. A service that comes with it is not started.
set -euo pipefail
command=$1
shift
if command -v "$command" >/dev/null; then
	exit 0
fi
echo "installing with apt: $* (for $command)"
if ! command -v apt-get >/dev/null; then
	echo "$command is missing and apt-get is not here: install $* by hand" >&2
	exit 1
fi
root=()
if [ "$(id -u)" != 0 ]; then
	root=(sudo)
fi
log=$(mktemp)
policy=/usr/sbin/policy-rc.d
made=
trap 'rm -f "$log"; if [ -n "$made" ]; then "${root[@]}" rm -f "$policy"; fi' EXIT
if [ ! -e "$policy" ]; then
	made=1
	printf '#!/bin/sh\nexit 101\n' | "${root[@]}" tee "$policy" >/dev/null
	"${root[@]}" chmod 755 "$policy"
fi
export DEBIAN_FRONTEND=noninteractive
if ! { "${root[@]}" apt-get update && "${root[@]}" apt-get install -y --no-install-recommends "$@"; } >"$log" 2>&1; then
	tail -n 20 "$log" >&2
	echo "could not install $*: look at the lines above" >&2
	exit 1
fi
