#!/usr/bin/env bash
# browser.sh PAGE opens a page in headless Chromium at desktop and phone size,
# light and dark, and fails on what a person would see go wrong.
# browser.sh --ui PROGRAM OUT [PART...] drives the sheets.
# browser.sh --guide PROGRAM FOLDER takes the pictures of the guide.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
"$here/need.sh" chromium chromium fonts-dejavu-core
"$here/need.sh" node nodejs npm
"$here/need.sh" npm npm
if [ ! -d "$here/browser/node_modules/axe-core" ]; then
	echo "installing with npm: playwright-core 1.65.1 (drives the browser), axe-core 4.14.1 (looks for what hinders people)"
	(cd "$here/browser" && npm ci --no-audit --no-fund --silent)
fi
if [ "$1" = --ui ]; then
	if [ $# -gt 3 ]; then
		node "$here/browser/ui.mjs" "$2" "$(command -v chromium)" "${@:3}"
	else # all of it, in two halves side by side
		said=$(mktemp)
		node "$here/browser/ui.mjs" "$2" "$(command -v chromium)" "$3" two >"$said" 2>&1 &
		other=$!
		well=0
		mine=$(mktemp)
		node "$here/browser/ui.mjs" "$2" "$(command -v chromium)" "$3" one 2>&1 | tee "$mine" || well=1
		wait "$other" || well=1
		cat "$said"
		grep -h "^ui: FAULT" "$mine" "$said" || true # once more, where they are looked for
		rm -f "$said" "$mine"
		exit $well
	fi
elif [ "$1" = --guide ]; then
	node "$here/browser/guide.mjs" "$2" "$(command -v chromium)" "$3"
else
	node "$here/browser/page.mjs" "$1" "$(command -v chromium)"
fi
