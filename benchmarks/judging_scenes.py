"""The judge of skeins tried on drawn photos whose truth is known: how often it is wrong, sure and wrong, or silent.

    python benchmarks/judging_scenes.py --scenes 100 --kind equal --json
    python benchmarks/judging_scenes.py --scenes 100 --kind one-off --off 1.5 --ground "white paper" --boxes given

A rate goes by scenes unless it says "of pairs" or "of skeins".
"""

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from dyewright.core.model import JudgeResult, Shape
from dyewright.errors import StudioError
from dyewright.services.judging.verdict import judge

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "support"))
from yarn_scenes import GROUNDS, Form, Scene, Truth, Uneven, make
from yarn_scenes.spectra import de00

TOLERANCE = 1.0
KINDS = ("equal", "one-off", "spread", "uneven")
DAYLIGHTS = ("D50", "D55", "D65", "D75")


@dataclass
class Trial:
    """What became of one scene; None where it does not apply or could not be told."""

    seed: int
    ground: str
    lamps: str
    form: str
    colour: tuple[float, ...] = ()
    failure: str = ""
    seconds: float = 0.0
    chart_found: bool = False
    says_differs: bool | None = None
    says_beyond: bool | None = None
    sets_split: bool | None = None
    found: bool | None = None
    found_beside_all: bool | None = None
    found_beyond: bool | None = None
    set_apart: bool | None = None
    pairs_held: list[bool] = field(default_factory=list)
    pair_misses: list[float] = field(default_factory=list)
    pair_halves: list[float] = field(default_factory=list)
    worst_pair: tuple[float, ...] = ()
    labs_held: list[bool] = field(default_factory=list)
    lab_misses: list[tuple[float, float, float]] = field(default_factory=list)
    lab_de00: list[float] = field(default_factory=list)
    kinds: list[tuple[str, str]] = field(default_factory=list)


def truth_of(kind: str, off_de00: float, form: Form | None, seed: int) -> Truth:
    """Return what the skeins of a scene are.

    All equal, one of them off, in steps from 0 to `off_de00`, or one even and five uneven, each in its own way.
    """
    random = np.random.default_rng(90_000 + seed)
    offs = [0.0] * 6
    if kind == "one-off":
        offs[int(random.integers(6))] = off_de00
    elif kind == "spread":
        offs = random.permutation(np.array([0, 0, 0, 1, 2, 4]) / 4 * off_de00).tolist()
    elif kind == "uneven":
        ways = [None, *Uneven]
        return Truth(form=form, uneven=tuple(ways[i] for i in random.permutation(6)), uneven_de00=off_de00)
    return Truth(form=form, off_de00=tuple(offs))


def shapes(scene: Scene) -> list[Shape]:
    """Return the true outlines as a user would draw them by hand."""
    return [Shape(tuple((float(x), float(y)) for x, y in outline)) for outline in scene.outlines]


def owners(scene: Scene, result: JudgeResult) -> list[int]:
    """Return the number (from 0) of the true skein that each found one is, -1 where it is none."""
    middles = np.array([outline.mean(axis=0) for outline in scene.outlines])
    reach = np.array([np.ptp(outline, axis=0).max() / 4 for outline in scene.outlines])
    found = []
    for skein in result.skeins:
        left, top, right, bottom = Shape(skein.outline).sides
        away = np.hypot(*(middles - ((left + right) / 2, (top + bottom) / 2)).T)
        nearest = int(np.argmin(away))
        found.append(nearest if away[nearest] < reach[nearest] else -1)
    return found


def tried(seed: int, scene: Scene, boxes: str, offs: Sequence[float]) -> Trial:
    """Return what the judge makes of one scene."""
    how = scene.conditions
    lamp = "mixed" if len(how.lamps) > 1 else "daylight" if how.lamps[0] in DAYLIGHTS else how.lamps[0]
    trial = Trial(seed, how.ground, lamp, str(scene.form), tuple(scene.labs[0].round(1).tolist()))
    start = time.perf_counter()
    try:
        drawn = shapes(scene) if boxes == "given" else ()
        result = judge([scene.jpeg], boxes=drawn, tolerance=TOLERANCE, is_older_chart=True)
    except StudioError as error:
        trial.failure = f"refused: {error}"
        return trial
    except Exception as error:  # noqa: BLE001 - a crash is a result of the trial, and is told
        trial.failure = f"{type(error).__name__}: {error}"
        return trial
    trial.seconds = time.perf_counter() - start
    trial.chart_found = result.chart.found
    own = owners(scene, result)
    if sorted(own) != list(range(len(scene.outlines))):
        trial.failure = f"skeins: {len(own)} found, {len(set(own) - {-1})} of {len(scene.outlines)} right"
        return trial
    told = [str(skein.evenness.kind) for skein in result.skeins]
    trial.kinds = [(str(scene.uneven[number] or "even"), kind) for number, kind in zip(own, told, strict=True)]
    if any(scene.uneven):  # their colours are no single ones
        return trial
    _compare_pairs(trial, scene, result, dict(zip((s.id for s in result.skeins), own, strict=True)), offs)
    _compare_colours(trial, scene, result, own)
    return trial


def _compare_pairs(trial: Trial, scene: Scene, result: JudgeResult, own: dict[int, int], offs: Sequence[float]) -> None:
    equal = [p for p in result.pairs if offs[own[p.a]] == offs[own[p.b]] == 0]
    off = int(np.argmax(offs)) if np.count_nonzero(offs) == 1 else None
    with_off = [p for p in result.pairs if off is not None and off in {own[p.a], own[p.b]}]
    trial.says_differs = any(p.low > 0 for p in equal)
    trial.says_beyond = any(p.is_within is False for p in equal)
    together = [{own[number] for number in group} for group in result.sets]
    same = {number for number, value in enumerate(offs) if value == 0}
    trial.sets_split = not any(same <= group for group in together)
    if off is not None:
        trial.found = any(p.low > 0 for p in with_off)
        trial.found_beside_all = all(p.low > 0 for p in with_off)
        trial.found_beyond = any(p.is_within is False for p in with_off)
        trial.set_apart = not any(off in group and group & same for group in together)
    for p in result.pairs:
        true = scene.difference(own[p.a], own[p.b])
        trial.pairs_held.append(p.low - 1e-9 <= true <= p.high + 1e-9)
        trial.pair_misses.append(p.de00 - true)
        trial.pair_halves.append((p.high - p.low) / 2)
    worst = max(result.pairs, key=lambda p: max(p.low - scene.difference(own[p.a], own[p.b]), 0))
    trial.worst_pair = (worst.de00, worst.low, worst.high, scene.difference(own[worst.a], own[worst.b]))


def _compare_colours(trial: Trial, scene: Scene, result: JudgeResult, own: Sequence[int]) -> None:
    for skein, number in zip(result.skeins, own, strict=True):
        true = scene.labs[number]
        trial.lab_de00.append(float(de00(true, skein.lab)))
        trial.lab_misses.append(tuple((np.array(skein.lab) - true).round(2).tolist()))
        if skein.lab_low is not None and skein.lab_high is not None:
            trial.labs_held.append(bool(np.all(skein.lab_low <= true) and np.all(true <= skein.lab_high)))


def summary(trials: Sequence[Trial]) -> dict[str, Any]:
    """Return the rates and errors of some trials."""
    read = [trial for trial in trials if not trial.failure]

    def rate(values: Iterable[bool | None]) -> float | None:
        known = [value for value in values if value is not None]
        return round(sum(known) / len(known), 3) if known else None

    def at(percent: float, values: Iterable[float]) -> float | None:
        known = np.abs(list(values))
        return round(float(np.percentile(known, percent)), 2) if len(known) else None

    return {
        "scenes": len(trials),
        "failed": rate(bool(trial.failure) for trial in trials),
        "chart_missed": rate(not trial.chart_found for trial in read),
        "false_differs": rate(trial.says_differs for trial in read),
        "false_beyond": rate(trial.says_beyond for trial in read),
        "equal_split": rate(trial.sets_split for trial in read),
        "found": rate(trial.found for trial in read),
        "found_beside_all": rate(trial.found_beside_all for trial in read),
        "found_beyond": rate(trial.found_beyond for trial in read),
        "set_apart": rate(trial.set_apart for trial in read),
        "all_pairs_held": rate(all(trial.pairs_held) for trial in read if trial.pairs_held),
        "held_of_pairs": rate(held for trial in read for held in trial.pairs_held),
        "pair_miss_median": at(50, (miss for trial in read for miss in trial.pair_misses)),
        "pair_miss_p95": at(95, (miss for trial in read for miss in trial.pair_misses)),
        "pair_half_median": at(50, (half for trial in read for half in trial.pair_halves)),
        "held_of_skeins": rate(held for trial in read for held in trial.labs_held),
        "lab_de00_median": at(50, (miss for trial in read for miss in trial.lab_de00)),
        "lab_de00_p95": at(95, (miss for trial in read for miss in trial.lab_de00)),
        "kinds_right": rate(true == told for trial in read for true, told in trial.kinds),
        "even_called_uneven": rate(told != "even" for trial in read for true, told in trial.kinds if true == "even"),
        "seconds_median": round(statistics.median([t.seconds for t in read]), 2) if read else None,
    }


def confusion(trials: Sequence[Trial]) -> dict[str, dict[str, int]]:
    """Return how often each true kind of unevenness was told as which."""
    pairs = [pair for trial in trials for pair in trial.kinds]
    names = ["even", *map(str, Uneven)]
    return {true: {told: pairs.count((true, told)) for told in names} for true in names}


GROUPS: dict[str, Callable[[Trial], str]] = {
    "ground": lambda trial: trial.ground,
    "lamps": lambda trial: trial.lamps,
    "form": lambda trial: trial.form,
}


def grouped(trials: Sequence[Trial]) -> dict[str, dict[str, Any]]:
    """Return the summary of all trials and of those under each condition."""
    told = {"all": summary(trials)}
    for name, group in GROUPS.items():
        for value in sorted({group(trial) for trial in trials}):
            told[f"{name}: {value}"] = summary([trial for trial in trials if group(trial) == value])
    return told


def fixed_for(options: argparse.Namespace, seed: int) -> dict[str, Any]:
    """Return the conditions of a scene that are not left to chance."""
    fixed: dict[str, Any] = {}
    if options.careful:
        fixed = {"ground": ("white paper", "grey board")[seed % 2], "lamps": (DAYLIGHTS[seed % 4],)}
        fixed |= {"second_frac": 0.0, "dusk_frac": 0.0}
    if options.ground is not None:
        fixed["ground"] = options.ground
    if options.lamp is not None:
        fixed |= {"lamps": (options.lamp,), "second_frac": 0.0}
    if options.no_chart:
        fixed["has_chart"] = False
    return fixed


def run(options: argparse.Namespace) -> list[Trial]:
    """Return the trials asked for, telling of each on the way."""
    form = None if options.form is None else Form(options.form)
    trials = []
    for seed in range(options.first, options.first + options.scenes):
        truth = truth_of(options.kind, options.off, form, seed)
        scene = make(seed, truth=truth, conditions=fixed_for(options, seed), megapixels=options.megapixels)
        trials.append(tried(seed, scene, options.boxes, truth.off_de00))
        if options.save_to is not None:
            (options.save_to / f"{options.kind}-{seed}.jpg").write_bytes(scene.jpeg)
        if options.verbose:
            print(json.dumps(asdict(trials[-1])), file=sys.stderr, flush=True)
    return trials


def options_from(arguments: Sequence[str] | None = None) -> argparse.Namespace:
    """Return the command's options."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scenes", type=int, default=20)
    parser.add_argument("--first", type=int, default=1, help="the first scene's seed")
    parser.add_argument("--kind", choices=KINDS, default="equal")
    parser.add_argument(
        "--off", type=float, default=1.5, help="ΔE00 of the skein that is off, of the widest step, or of what is uneven"
    )
    parser.add_argument("--ground", choices=GROUNDS)
    parser.add_argument("--lamp", help="one of the CIE's lights, such as D65 or FL11")
    parser.add_argument("--form", choices=[str(form) for form in Form])
    parser.add_argument("--boxes", choices=("auto", "given"), default="auto")
    parser.add_argument("--careful", action="store_true", help="plain ground, daylight, no shadow across the table")
    parser.add_argument("--no-chart", action="store_true")
    parser.add_argument("--megapixels", type=float, default=3.0)
    parser.add_argument("--save-to", type=Path, help="folder that gets the photos")
    parser.add_argument("--verbose", action="store_true", help="each scene on the error stream")
    parser.add_argument("--json", action="store_true")
    return parser.parse_args(arguments)


def main() -> None:
    """Run the trials and print what came out."""
    options = options_from()
    trials = run(options)
    told = grouped(trials)
    failures = {trial.seed: trial.failure for trial in trials if trial.failure}
    if options.json:
        kinds = confusion(trials)
        print(json.dumps({"summary": told, "kinds": kinds, "failures": failures}, indent=1, ensure_ascii=False))
        return
    for name, values in told.items():
        print(name)
        print("   " + "  ".join(f"{key} {value}" for key, value in values.items() if value is not None))
    for true, counts in confusion(trials).items():
        print(f"{true}: {counts}")
    for seed, failure in failures.items():
        print(f"scene {seed}: {failure}")


if __name__ == "__main__":
    main()
