"""Do other programs read where a photograph was taken? Asks Exiv2 (through pyexiv2) for the XMP files that
trug writes, and holds them against the truth of the sample days. Photographs and files of others must stay
as they are, bit for bit.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import hashlib
import os
import pathlib
import shutil
import subprocess
import sys

import pyexiv2

DAYS = pathlib.Path(__file__).resolve().parent.parent.parent / "sample-tracks"
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done


def fingerprints(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.glob("*.jpg")}


def degrees(words):
    whole, rest = words[:-1].split(",")
    return (float(whole) + float(rest) / 60) * (-1 if words[-1] in "SW" else 1)


def main():
    folder = WORK / "day"
    shutil.copytree(DAYS / "2026-04-18-wren-gully", folder)
    before = fingerprints(folder)
    foreign = folder / "P1001.xmp"
    foreign.write_text('<x:xmpmeta xmlns:x="adobe:ns:meta/" x:xmptk="Another program 7"/>')
    kept = foreign.read_bytes()
    store = WORK / "trug.gpkg"
    trug("import", folder, "--store", store)
    told = trug("stamp", "--store", store)
    assert told.returncode == 1 and "1 left alone" in told.stdout, told.stdout
    assert foreign.read_bytes() == kept, "a file of another program was changed"
    assert fingerprints(folder) == before, "a photograph was changed"
    packets = sorted(path for path in folder.glob("*.xmp") if path != foreign)
    assert len(packets) == len(before) - 1, len(packets)
    for path in packets:
        with pyexiv2.Image(str(path)) as picture:
            said = picture.read_xmp()
        latitude, longitude = degrees(said["Xmp.exif.GPSLatitude"]), degrees(said["Xmp.exif.GPSLongitude"])
        # the whole of the reserve lies within a kilometre and a half of its car park
        assert abs(latitude + 42.6173) < 0.01 and abs(longitude - 146.0914) < 0.02, (path, latitude, longitude)
        error, over = map(float, said["Xmp.exif.GPSHPositioningError"].split("/"))
        assert 1 < error / over < 60, said
        assert said["Xmp.exif.GPSMapDatum"] == "WGS-84"
        assert said["Xmp.exif.GPSTimeStamp"].startswith("2026-04-1")
    again = trug("stamp", "--store", store)
    assert f"{len(packets)} written" in again.stdout, "trug's own files are written anew"
    elsewhere = trug("stamp", "--store", store, "--into", WORK / "apart")
    assert elsewhere.returncode == 0 and f"{len(before)} written" in elsewhere.stdout
    print(f"stamp: Exiv2 reads {len(packets)} files; photographs and files of others unchanged")


if __name__ == "__main__":
    sys.exit(main())
