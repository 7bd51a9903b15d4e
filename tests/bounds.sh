#!/usr/bin/env bash
# Shares of whole outlines that may not slip: seed and case count are fixed, each bound lies two or
# three cases under the share measured with them. Percent at the steady, ordinary and shaky hand.
set -euo pipefail
cd "$(dirname "$0")/.."
board=target/checks/scoreboard

"$board" --cases 4 --seed 1000 --least 97,95,90
"$board" --cases 2 --seed 2000 --form drift --least 95,86,78
"$board" --cases 2 --seed 2000 --form tremor --least 97,95,84
"$board" --cases 2 --seed 2000 --form overrun --least 95,94,90
"$board" --cases 2 --seed 3000 --input strokes --least 92,97,84
"$board" --cases 2 --seed 3000 --input touched --least 95,91,78
"$board" --cases 2 --seed 3000 --input cloud --least 97,94,84
