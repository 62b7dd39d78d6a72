#!/bin/sh
# The whole job on the demo study: check, search, rank, look, hand over. `make demo` runs it.
set -eu
cd "$(dirname "$0")/.."
PARETORQUE=${PARETORQUE:-paretorque}
study=studies/island-post-van.toml
pack=packs/island-post-van

say() { printf '\n== %s\n\n' "$*"; }

say "check the study"
"$PARETORQUE" check "$study" --quiet
say "search: 3,000 evaluations"
"$PARETORQUE" run "$study"
say "the best candidate in full"
"$PARETORQUE" pick last
say "its hand-over pack"
"$PARETORQUE" export last --to "$pack" --overwrite --quiet

say "what to do next"
cat <<TEXT
Open $pack/data_sheet.html for the design on one page, $pack/README.txt for all files.
Weigh the objectives in another way:
  $PARETORQUE front last --weights "cost=1,peak_torque=3"
Ask for less magnet; nothing is evaluated twice:
  $PARETORQUE rerun last --limit "magnet_mass <= 1.1 kg" --budget 1000
Change one parameter by hand:
  $PARETORQUE evaluate $pack/design.toml --set "magnet_thickness=4 mm"
Copy $study, change it, and check it:
  $PARETORQUE check my-study.toml
TEXT
