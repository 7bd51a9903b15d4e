#!/usr/bin/env bash
# Every file that a guide links to, or names by its path in backticks, is there.
set -euo pipefail
cd "$(dirname "$0")/.."

missing=0
checked=0
while IFS= read -r guide; do
    folder=$(dirname "$guide")
    # Links and pictures go from the guide's folder; web addresses and places within a page are not files.
    links=$(grep -oE '\]\([^)#]+|(src|href)="[^"#]+' "$guide" | sed -E 's/^(\]\(|src="|href=")//' | grep -vE '^[a-z]+:' || true)
    # Paths in backticks go from the top folder or from the core's sources; patterns and what is built stand for many.
    paths=$(grep -oE '`[A-Za-z0-9_./-]+/[A-Za-z0-9_.-]+\.(rs|sh|py|mjs|js|md|csv|toml|list|in)`' "$guide" | tr -d '`' | grep -v '^target/' || true)
    for link in $links; do
        checked=$((checked + 1))
        [ -e "$folder/$link" ] || { echo "links: $guide links to $link, which is not there" >&2; missing=1; }
    done
    for path in $paths; do
        checked=$((checked + 1))
        [ -e "$path" ] || [ -e "core/src/$path" ] || [ -e "$folder/$path" ] || { echo "links: $guide names $path, which is not there" >&2; missing=1; }
    done
done < <(git ls-files '*.md')
[ "$checked" -gt 0 ] || { echo "links: no guide was found" >&2; exit 1; }
[ "$missing" -eq 0 ]
printf 'links: %d files that the guides name are there.\n' "$checked"
