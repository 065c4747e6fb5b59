#!/usr/bin/env bash
# Makes the example pictures of the guides from the sample days:
#
#   docs/pictures/make.sh [PATH OF TRUG]
#
# Takes pdftoppm (poppler) for pages, and chromium for the sheet.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
trug=${1:-target/debug/trug}
days=sample-tracks
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# trug exits with 1 where it set something aside, which is what the sample days are for
run() { "$trug" --quiet "$@" >/dev/null || (($? == 1)); }
# page PDF NAME DOTS_PER_INCH: its first page as a picture
page() { pdftoppm -png -r "$3" -f 1 -l 1 -singlefile "$1" "docs/pictures/$2"; }

ground=(--elevation sample-map/terrain.asc --base sample-map/base.geojson)
run check "$days/2026-05-02-thimble-spur" --figure "$work/thimble-spur.pdf" "${ground[@]}"
page "$work/thimble-spur.pdf" day-map 100
run check "$days/2026-05-16-old-tramway" --figure "$work/old-tramway.pdf" "${ground[@]}"
page "$work/old-tramway.pdf" day-map-trouble 100

for day in 2026-04-18-wren-gully 2026-05-02-thimble-spur 2026-05-16-old-tramway; do
    run import "$days/$day" --store "$work/trug.gpkg"
done
run labels --store "$work/trug.gpkg" --out "$work/packet.pdf"
page "$work/packet.pdf" labels-packet 64
run labels --store "$work/trug.gpkg" --size tray --out "$work/tray.pdf"
page "$work/tray.pdf" labels-tray 56
run labels --slips AQ-0101 --count 8 --out "$work/slips.pdf"
page "$work/slips.pdf" labels-slips 56

run sheet --day 2026-05-16 --store "$work/trug.gpkg" --out "$work/sheet.html"
chromium --headless --no-sandbox --hide-scrollbars --window-size=1200,1180 \
    --screenshot="$work/sheet.png" "file://$work/sheet.html#find-4" >/dev/null 2>&1
cp "$work/sheet.png" docs/pictures/day-sheet.png

run import "$days/earlier-years" --store "$work/trug.gpkg" "${ground[@]}"
run next --date 2027-05-08 --hours 3 --store "$work/trug.gpkg" --figure "$work/round.pdf" --card "$work/round-card.pdf"
page "$work/round.pdf" round 80
page "$work/round-card.pdf" round-card 80
run sheet --season 2024-2026 --store "$work/trug.gpkg" --out "$work/season.html"
chromium --headless --no-sandbox --hide-scrollbars --window-size=820,900 \
    --screenshot="$work/season.png" "file://$work/season.html" >/dev/null 2>&1
cp "$work/season.png" docs/pictures/season-sheet.png
