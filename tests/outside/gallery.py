"""Are the pictures of the gallery those that its command makes now? Makes all of them again: drawings and sheets have
the same size and look alike (poppler versions differ in the edges of letters), pages as a browser shows them have
the same size (their fonts are those of the machine).

Gets the path of trug in TRUG, an empty folder in WORK and the npm packages in NODE_PATH.
"""

import os
import pathlib
import subprocess

from PIL import Image, ImageChops, ImageStat

HERE = pathlib.Path(__file__).resolve().parent
KEPT = HERE.parent.parent / "docs" / "pictures"
WORK = pathlib.Path(os.environ["WORK"])
# the mean difference of a pixel, of 255; another axis or label gives more than 1
MOST = 0.8

made = subprocess.run([KEPT / "make.sh", os.environ["TRUG"], WORK], capture_output=True, text=True)
assert made.returncode == 0, made.stderr
drawings = {line.split()[1] for line in (KEPT / "make.sh").read_text().splitlines() if line.startswith("drawn ")}
pictures = sorted(WORK.glob("*.png"))
assert {path.name for path in pictures} == {path.name for path in KEPT.glob("*.png")}
worst = (0.0, "")
for path in pictures:
    now, kept = Image.open(path).convert("RGB"), Image.open(KEPT / path.name).convert("RGB")
    assert now.size == kept.size, f"{path.name}: {now.size} now, {kept.size} in the gallery"
    if path.stem in drawings:
        apart = sum(ImageStat.Stat(ImageChops.difference(now, kept)).mean) / 3
        assert apart < MOST, f"{path.name}: differs by {apart:.2f} a pixel: run docs/pictures/make.sh"
        worst = max(worst, (apart, path.name))
print(f"gallery: {len(pictures)} pictures, drawings differ by {worst[0]:.3f} of 255 a pixel at most ({worst[1]})")
