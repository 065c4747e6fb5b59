"""Writes small pictures with Exif by programs that share no code with trug, for tests/reference/exif.rs:
JPEG, PNG, WebP and TIFF by Pillow, HEIF by libheif (pillow-heif). Needed only to make them again
(pip install pillow pillow-heif):

    .venv/bin/python tests/outside/makers/exif_files.py tests/reference/data/exif
"""

import sys
from pathlib import Path

import pillow_heif
from PIL import Image

pillow_heif.register_heif_opener()


def header():
    """Invented camera, invented place in the southern hemisphere, west of Greenwich."""
    exif = Image.Exif()
    exif[0x010F] = "Lanternworks"
    exif[0x0110] = "Fieldeye 3"
    details = exif.get_ifd(0x8769)
    details[0x9003] = "2026:05:03 16:45:09"
    details[0x9291] = "375"
    details[0x9011] = "-03:30"
    details[0xA431] = "LW-00042"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "S", (42.0, 30.0, 36.5)
    gps[3], gps[4] = "W", (73.0, 15.0, 0.25)
    gps[5], gps[6] = b"\x01", 12.5
    gps[7], gps[29] = (20.0, 15.0, 8.0), "2026:05:03"
    gps[16], gps[17] = "T", 271.5
    gps[31] = 4.75
    return exif


def main():
    into = Path(sys.argv[1])
    picture = Image.new("RGB", (64, 64), (90, 120, 60))
    for name in ("pillow.jpg", "pillow.png", "pillow.webp", "pillow.tif", "libheif.heic"):
        picture.save(into / name, exif=header().tobytes())


if __name__ == "__main__":
    main()
