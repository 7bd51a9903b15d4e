#!/usr/bin/env bash
# Shares of whole outlines that may not slip: seed and case count are fixed, each bound lies a little
# under the share measured with them. Percent at the steady, ordinary and shaky hand. Touches and
# clouds have no bound yet.
set -euo pipefail
cd "$(dirname "$0")/.."
board=target/checks/scoreboard

"$board" --cases 4 --seed 1000 --least 89,89,77
"$board" --cases 2 --seed 2000 --form drift --least 82,67,45
"$board" --cases 2 --seed 2000 --form tremor --least 95,82,64
"$board" --cases 2 --seed 2000 --form overrun --least 92,86,66
"$board" --cases 2 --seed 3000 --input strokes --least 80,82,60
