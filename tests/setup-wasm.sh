#!/bin/sh
# What building and checking the page needs: the wasm target by rustup, or where rustup cannot fetch it the
# system's compiler with its library sources; a browser; the checkers of tests/page. Each is skipped when it is there. Packages are installed only on a Debian-like machine and only by root.
set -eu
here=$(cd "$(dirname "$0")" && pwd)

missing=""
has_target() { rustup target list --installed 2>/dev/null | grep -qx wasm32-unknown-unknown; }
has_target || rustup target add wasm32-unknown-unknown >/dev/null 2>&1 || true
if ! has_target; then
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
