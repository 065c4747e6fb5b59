"""Do other programs read where a photograph was taken? Asks Exiv2 (through pyexiv2) for the XMP files that
trug writes and for the Exif part of copies, and holds them against the truth of the sample days. Photographs
and files of others must stay as they are, bit for bit; copies must keep the picture, the maker's note, the
thumbnail and every other tag, which Pillow and Exiv2 compare.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import hashlib
import os
import pathlib
import shutil
import subprocess
import sys

import pyexiv2
from PIL import Image

DAYS = pathlib.Path(__file__).resolve().parent.parent.parent / "sample-tracks"
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done


def refused(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode == 2, f"trug {arguments}: {done.returncode} {done.stdout}"
    return done


def fingerprints(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.glob("*.jpg")}


def degrees(words):
    whole, rest = words[:-1].split(",")
    return (float(whole) + float(rest) / 60) * (-1 if words[-1] in "SW" else 1)


def with_maker_note(path):
    """Gives a photograph what an ordinary camera adds: a maker's note that nobody can read, a thumbnail."""
    small = Image.new("RGB", (160, 120), (40, 90, 30))
    small.save(WORK / "small.jpg", quality=60)
    with pyexiv2.Image(str(path)) as picture:
        picture.modify_exif({
            "Exif.Photo.MakerNote": " ".join(str(n * 37 % 256) for n in range(600)),
            "Exif.Photo.UserComment": "charset=Unicode \u00c4hre",
            "Exif.Image.Copyright": "nobody in particular",
        })
        picture.modify_thumbnail((WORK / "small.jpg").read_bytes())


def said(path):
    with pyexiv2.Image(str(path)) as picture:
        return picture.read_exif(), picture.read_thumbnail()


def scan(path):
    """The bytes of the picture itself: from the last header on."""
    file = path.read_bytes()
    at = 2
    while file[at + 1] != 0xDA:
        at += 2 + int.from_bytes(file[at + 2:at + 4], "big")
    return file[at:]


def angle(words):
    parts = [int(over) / int(under) for over, under in (part.split("/") for part in words.split())]
    return parts[0] + parts[1] / 60 + parts[2] / 3600


def check_copies(folder, store):
    """Exact copies: nothing of the photograph is lost, and Exiv2 reads the position."""
    into = WORK / "copies"
    reported = trug("stamp", "--store", store, "--copies", into, "--coordinates", "exact-throughout")
    copies = sorted(into.glob("*.jpg"))
    assert f"{len(copies)} copies written" in reported.stdout, reported.stdout
    assert len(copies) == len(list(folder.glob("*.jpg"))) and not list(into.glob("*.xmp"))
    for copy in copies:
        original = folder / copy.name
        assert scan(original) == scan(copy), f"{copy}: the picture's own bytes changed"
        with Image.open(original) as one, Image.open(copy) as other:
            assert one.tobytes() == other.tobytes(), f"{copy}: the decoded picture changed"
        (was, small), (now, same) = said(original), said(copy)
        assert small == same, f"{copy}: the thumbnail changed"
        moves = {"Exif.Image.GPSTag", "Exif.Photo.MakerNote.Offset"}
        for tag, value in was.items():
            assert tag in moves or "GPS" in tag or now[tag] == value, f"{copy}: {tag}: {value} became {now.get(tag)}"
        south, east = angle(now["Exif.GPSInfo.GPSLatitude"]), angle(now["Exif.GPSInfo.GPSLongitude"])
        assert now["Exif.GPSInfo.GPSLatitudeRef"] == "S" and now["Exif.GPSInfo.GPSLongitudeRef"] == "E"
        assert abs(south - 42.6173) < 0.01 and abs(east - 146.0914) < 0.02, (copy, south, east)
        over, under = map(int, now["Exif.GPSInfo.GPSHPositioningError"].split("/"))
        assert 1 < over / under < 60
        assert now["Exif.GPSInfo.GPSMapDatum"] == "WGS-84"
        assert now["Exif.GPSInfo.GPSDateStamp"].startswith("2026:04:1")
    again = trug("stamp", "--store", store, "--copies", into, "--coordinates", "exact-throughout")
    assert f"{len(copies)} copies written" in again.stdout, "trug's own copies are rewritten"
    originals = fingerprints(folder)
    same = refused("stamp", "--store", store, "--copies", folder)
    assert "imported original" in same.stderr, "an original was taken for a copy"
    assert fingerprints(folder) == originals
    return len(copies)


def check_careful(store):
    """Copies for others: on the grid, without time; none of what is sensitive."""
    into = WORK / "careful"
    trug("stamp", "--store", store, "--copies", into)
    for copy in into.glob("*.jpg"):
        now, _ = said(copy)
        for tag in ("Latitude", "Longitude"):
            degrees = angle(now[f"Exif.GPSInfo.GPS{tag}"]) * 1000
            assert abs(degrees - round(degrees)) < 1e-4, (copy, degrees)
        assert "Exif.GPSInfo.GPSTimeStamp" not in now
    trug("places", "--store", store, "quiet", "--kind", "Mycena", "--level", "high")
    withheld = trug("stamp", "--store", store, "--copies", WORK / "withheld")
    assert "withheld as sensitive" in withheld.stdout, withheld.stdout
    left = len(list((WORK / "withheld").glob("*.jpg")))
    assert left < len(list(into.glob("*.jpg"))), "a sensitive photograph was copied"


def main():
    folder = WORK / "day"
    shutil.copytree(DAYS / "2026-04-18-wren-gully", folder)
    for photograph in sorted(folder.glob("*.jpg"))[:3]:
        with_maker_note(photograph)
    before = fingerprints(folder)
    foreign = folder / "P1001.xmp"
    foreign.write_text('<x:xmpmeta xmlns:x="adobe:ns:meta/" x:xmptk="Another program 7"/>')
    kept = foreign.read_bytes()
    store = WORK / "trug.gpkg"
    trug("import", folder, "--store", store)
    in_the_way = refused("stamp", "--store", store)
    assert str(foreign) in in_the_way.stderr, in_the_way.stderr
    assert list(folder.glob("*.xmp")) == [foreign], "all files or none"
    reported = trug("stamp", "--store", store, "--keep-existing")
    assert reported.returncode == 1 and "1 skipped" in reported.stdout, reported.stdout
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
    again = trug("stamp", "--store", store, "--keep-existing")
    assert f"{len(packets)} written" in again.stdout, "trug's own files are rewritten"
    elsewhere = trug("stamp", "--store", store, "--into", WORK / "apart")
    assert elsewhere.returncode == 0 and f"{len(before)} written" in elsewhere.stdout
    copies = check_copies(folder, store)
    check_careful(store)
    assert fingerprints(folder) == before, "a photograph was changed"
    print(f"stamp: {copies} copies keep picture, note and thumbnail")
    print(f"stamp: Exiv2 reads {len(packets)} files; photographs and files of others unchanged")


if __name__ == "__main__":
    sys.exit(main())
