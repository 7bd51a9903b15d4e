#!/usr/bin/env bash
# Licences, origins and versions of all dependencies, by .deny.toml. Advisories are looked up where
# their list can be fetched; where it cannot, that is said and the rest is checked. Where cargo-deny
# itself cannot be had, that is said, with status 3; where all but the advisories could be checked, with status 4.
set -euo pipefail
cd "$(dirname "$0")/.."

deny=$(command -v cargo-deny || echo target/tools/bin/cargo-deny)
if [ ! -x "$deny" ]; then
    cargo install --locked --quiet --root target/tools cargo-deny || {
        echo "tests: cargo-deny could not be had (cargo install cargo-deny); licences are not checked." >&2
        exit 3
    }
fi
check=("$deny" --config .deny.toml --locked --workspace)
"${check[@]}" --log-level warn check bans licenses sources
if timeout 120 "${check[@]}" --log-level off fetch db >/dev/null 2>&1; then
    "${check[@]}" --log-level warn check advisories
else
    echo "deny: the list of advisories could not be fetched here; advisories are not checked." >&2
    exit 4
fi
