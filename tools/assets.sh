#!/usr/bin/env bash
# assets.sh checks the types of the sheets and bundles them into
# internal/web/assets. npm packages are pinned by tools/assets/package-lock.json.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
"$here/need.sh" node nodejs npm
"$here/need.sh" npm npm
if [ ! -d "$here/assets/node_modules/preact" ]; then
	echo "installing with npm: preact, signals, uplot, typescript (for the sheets)"
	(cd "$here/assets" && npm ci --no-audit --no-fund --silent)
fi
"$here/assets/node_modules/.bin/tsc" -p "$here/../internal/web/app"
go -C "$here/assets" run . "$here/.."
