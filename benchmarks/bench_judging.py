"""How fast and in how much room a photo is judged, against decoding alone in the same run.

Goals: a 12-megapixel JPEG with chart and six skeins in at most 1.2 s and 20 times the bare decode; 48 megapixels in at
most 4 s and 1.2 GB, measured in a process of its own; a first overlay at once. The photo is drawn (tests/support); the
one of 48 megapixels is the same, enlarged with noise anew. Rounds of both take turns, and medians are told. Times are
of the processor, so that a shared machine disturbs them less: where both cores work, the wait is shorter.
"""

import io
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from dyewright.photo.chart import find_charts
from dyewright.photo.draw import first_overlay
from dyewright.photo.load import load_photo
from dyewright.photo.outlines import find_shapes
from dyewright.services.judging.verdict import judge

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "support"))
from yarn_scenes import Form, Truth, make

ROUNDS = 3
GOAL_S, GOAL_RATIO, GOAL_LARGE_S, GOAL_PEAK_MB, GOAL_OVERLAY_S = 1.2, 20, 4.0, 1200, 0.3


def twelve_megapixels() -> bytes:
    """Return a drawn photo of six hanks and the chart on white paper."""
    truth = Truth(number=6, form=Form.HANK, off_de00=(0, 0, 0, 1, 2, 4))
    return make(5, truth=truth, conditions={"ground": "white paper", "lamps": ("D65",)}, megapixels=12.2).jpeg


def forty_eight_megapixels(small: bytes) -> bytes:
    """Return the photo at twice its sides, with noise as a fine sensor has it."""
    codes = np.asarray(Image.open(io.BytesIO(small)).convert("RGB"))
    large = cv2.resize(codes, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    noise = np.random.default_rng(1).integers(-4, 5, large.shape, np.int16)
    file = io.BytesIO()
    Image.fromarray(np.clip(large + noise, 0, 255).astype(np.uint8)).save(file, "JPEG", quality=90)
    return file.getvalue()


def decoded(photo: bytes) -> None:
    np.asarray(Image.open(io.BytesIO(photo)).convert("RGB"))


def spent_s(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def in_turns(*works: Callable[[], object], rounds: int = ROUNDS) -> list[float]:
    """Return the median time of each piece of work, taken in turns after one round that does not count."""
    times = [[spent_s(work) for work in works] for _ in range(rounds + 1)][1:]
    return [statistics.median(one) for one in zip(*times, strict=True)]


PEAK = """
import sys
from pathlib import Path
from dyewright.services.judging.verdict import judge
judge([Path(sys.argv[1])])
status = Path("/proc/self/status").read_text()
print(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1])
"""  # not ru_maxrss: a child inherits its parent's


def peak_mb(photo: bytes) -> int:
    """Return the most memory that a process of its own takes for judging a photo, from its start."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "photo.jpg"
        path.write_bytes(photo)
        command = [sys.executable, "-c", PEAK, str(path)]
        told = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603 - this interpreter
        return int(told.stdout) // 1024


def report(title: str, photo: bytes, goals: str) -> None:
    judged, bare = in_turns(lambda: judge([photo]), lambda: decoded(photo))
    print(f"{title}, {len(photo) / 1e6:.1f} MB: judged in {judged:.2f} s, peak {peak_mb(photo)} MB ({goals})")
    print(f"  decoding alone {bare:.3f} s, ratio {judged / bare:.1f}")
    loaded, overlay = in_turns(lambda: load_photo(photo), lambda: first_overlay(photo))
    print(f"  into linear light {loaded:.2f} s; first overlay {overlay:.2f} s (goal {GOAL_OVERLAY_S})")
    seen = load_photo(photo)
    corners = find_charts(seen)[0]
    chart, shapes = in_turns(lambda: find_charts(seen), lambda: find_shapes(seen, corners))
    print(f"  the chart looked for {chart:.2f} s; {len(find_shapes(seen, corners))} skeins outlined {shapes:.2f} s")


def main() -> None:
    photo = twelve_megapixels()
    report("12 MP, chart and six skeins", photo, f"goals {GOAL_S} s, {GOAL_RATIO} times the decoding")
    report("48 MP", forty_eight_megapixels(photo), f"goals {GOAL_LARGE_S} s, {GOAL_PEAK_MB} MB")


if __name__ == "__main__":
    main()
