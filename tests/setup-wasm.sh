#!/bin/sh
# What building and checking the page needs where rustup cannot fetch the wasm target: the system's
# compiler with its library sources, a browser, and the checkers of tests/page. Each is skipped when
# it is there. Packages are installed only on a Debian-like machine and only by root.
set -eu
here=$(cd "$(dirname "$0")" && pwd)

missing=""
if ! rustup target list --installed 2>/dev/null | grep -qx wasm32-unknown-unknown; then
  src=$(/usr/bin/rustc --print sysroot 2>/dev/null || true)/lib/rustlib/src/rust/library/std/Cargo.toml
  [ -f "$src" ] || missing="$missing rustc-web rust-web-src"
fi
[ -x /usr/bin/chromium ] || missing="$missing chromium"

if [ -n "$missing" ]; then
  if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    apt-get update -q
    # shellcheck disable=SC2086 # a list of packages
    DEBIAN_FRONTEND=noninteractive apt-get install -yq --no-install-recommends $missing
  else
    echo "missing packages:$missing (apt-get install them as root)" >&2
    exit 1
  fi
fi

if command -v npm >/dev/null && [ ! -d "$here/page/node_modules/playwright-core" ]; then
  (cd "$here/page" && npm ci --no-audit --no-fund)
fi
