#!/usr/bin/env bash
# Makes the pictures of the gallery and of the guides from the sample days:
#
#   docs/pictures/make.sh [TRUG [FOLDER]]
#
# TRUG is the program (target/debug/trug), FOLDER where pictures go (docs/pictures). Takes pdftoppm
# (poppler) for drawings and sheets of paper, for pages chromium and the packages of the outside checks
# (target/outside/node_modules, which `./setup outside` installs). Drawings have 96 dots per inch: shown dot for
# dot, they have their size on paper.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
cd "$here/../.."
trug=$(realpath "${1:-target/debug/trug}")
into=$(realpath "${2:-$here}")
days=sample-tracks
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export TRUG_STORE="$work/trug.gpkg" NODE_PATH="${NODE_PATH:-$PWD/target/outside/node_modules}"

# trug exits with 1 where it set something aside, which is what the sample days are for
run() { "$trug" --quiet "$@" >/dev/null || (($? == 1)); }
# drawn NAME COMMAND...: the drawing or first sheet of a PDF that the command writes; FILE stands for it
drawn() {
    local name=$1
    shift
    run "${@//FILE/$work/$name.pdf}"
    pdftoppm -png -r 96 -f 1 -l 1 -singlefile "$work/$name.pdf" "$into/$name"
}
# screen NAME PAGE WIDTH HEIGHT [dark|light [PART]]: what a browser shows of a page, from a part on
screen() { node docs/pictures/screen.cjs "$2" "$into/$1.png" "${@:3}"; }

ground=(--elevation sample-map/terrain.asc --base sample-map/base.geojson)
drawn day-map check "$days/2026-05-02-thimble-spur" --figure FILE "${ground[@]}"
drawn day-map-trouble check "$days/2026-05-16-old-tramway" --figure FILE "${ground[@]}"

run import "$days" "${ground[@]}"
run weather add "$days/weather/nettlewick.csv" --station Nettlewick --at 42.64S,146.11E --elevation 330
drawn find show AQ-0044 --day 2026-04-18 --figure FILE
drawn sites sites --figure FILE
drawn effort effort --figure FILE
drawn calendar season --figure FILE
drawn season season --taxon "Mycena interrupta" --figure FILE
drawn weather season --taxon Mycena --weather --figure FILE
drawn years years --figure FILE
drawn density density --figure FILE
drawn relative-risk density --taxon Cortinarius --against all --figure FILE
drawn hosts hosts --taxon Cortinarius --figure FILE
drawn species lists --figure FILE
drawn round next --date 2027-05-08 --hours 3 --figure FILE
drawn round-card next --date 2027-05-08 --hours 3 --card FILE
track="$days/2026-05-02-thimble-spur/thimble-spur.gpx"
drawn way-out wayout --track "$track" --at 2026-05-02T10:20 "${ground[@]:0:2}" --card FILE
drawn plan wayout --plan 2026-05-30 --from "-42.6189 146.0912" --at 15:20 --card FILE
drawn area wayout --area --at 2026-05-30T10:00 --card FILE
drawn labels-packet labels --from 2026-05-02 --to 2026-05-02 --out FILE
drawn labels-tray labels --from 2026-05-02 --to 2026-05-02 --size tray --out FILE
drawn labels-slips labels --slips AQ-0901 --count 8 --out FILE

run sheet --day 2026-05-02 --out "$work/day.html"
screen day-sheet "$work/day.html#find-4" 1200 1040 light "#map-part"
screen day-sheet-dark "$work/day.html#find-4" 1200 800 dark "#map-part"
screen day-sheet-walk "$work/day.html#find-4" 1200 560 light "#walk-part"
screen day-sheet-phone "$work/day.html#find-4" 390 844 light "#map-part"
node docs/pictures/screen.cjs "$work/day.html" "$work/paper.pdf" 1200 900 paper
pdftoppm -png -r 96 -f 1 -l 1 -singlefile "$work/paper.pdf" "$into/day-sheet-paper"
run sheet --season 2023-2026 --out "$work/season.html"
screen season-sheet "$work/season.html" 1000 1100
run carry --date 2027-05-08 --out "$work/carry.html"
screen carry "$work/carry.html" 390 844
