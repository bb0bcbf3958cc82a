#!/usr/bin/env bash
# browser.sh PAGE opens a page in headless Chromium at desktop and phone size,
# light and dark, and fails on what a person would see go wrong.
set -euo pipefail
page=$1
here=$(cd "$(dirname "$0")" && pwd)
"$here/need.sh" chromium chromium fonts-dejavu-core
"$here/need.sh" node nodejs npm
"$here/need.sh" npm npm
if [ ! -d "$here/browser/node_modules/playwright-core" ]; then
	echo "installing with npm: playwright-core 1.65.1 (drives the browser)"
	(cd "$here/browser" && npm ci --no-audit --no-fund --silent)
fi
node "$here/browser/page.mjs" "$page" "$(command -v chromium)"
