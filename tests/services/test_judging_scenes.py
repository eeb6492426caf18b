"""The judge tried on drawn photos of skeins, whose truth it cannot know: a small trial of what the benchmark does."""

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks"))
import judging_scenes
from judging_scenes import options_from, run, summary

CAREFUL = ("--careful", "--boxes", "given")
SCENES = 6


def trial(*options: str) -> argparse.Namespace:
    return options_from([*CAREFUL, "--scenes", str(SCENES), *options])


@pytest.fixture(scope="module")
def equal():
    return run(trial("--kind", "equal"))


@pytest.fixture(scope="module")
def one_off():
    return run(trial("--kind", "one-off", "--off", "1.5", "--first", "51"))


# The goal is 95 of 100 scenes; the benchmark with 40 careful scenes a kind gave 1 of 37 false and 35 of 36 found.
# Six scenes a kind can only tell a broken judge from a sound one, so one slip in six is let pass.
def test_equal_skeins_are_not_called_different(equal):
    told = summary(equal)

    assert told["failed"] == 0
    assert told["false_differs"] <= 0.2  # one of six
    assert told["false_beyond"] == 0
    assert told["held_of_pairs"] >= 0.95


def test_a_skein_that_is_off_is_found(one_off):
    told = summary(one_off)

    assert told["failed"] == 0
    assert told["found"] >= 0.8  # five of six
    assert told["held_of_pairs"] >= 0.95


def test_intervals_of_colours_hold(equal, one_off):
    # 0.92 in the benchmark; what is lost is read too dark, where strands are too fine to tell lit from shaded.
    assert summary([*equal, *one_off])["held_of_skeins"] >= 0.8


def third(value, low, high):
    """An interval a third as wide about the same value."""
    return value - (value - low) / 3, value + (high - value) / 3


def test_a_judge_that_is_three_times_too_sure_would_be_caught(monkeypatch):
    honest = judging_scenes.judge

    def sure(*arguments, **named):
        result = honest(*arguments, **named)
        pairs = []
        for pair in result.pairs:
            low, high = third(pair.de00, pair.low, pair.high)
            pairs.append(replace(pair, low=low, high=high))
        skeins = []
        for skein in result.skeins:
            low, high = third(*map(np.array, (skein.lab, skein.lab_low, skein.lab_high)))
            skeins.append(replace(skein, lab_low=tuple(low), lab_high=tuple(high)))
        return replace(result, pairs=tuple(pairs), skeins=tuple(skeins))

    monkeypatch.setattr(judging_scenes, "judge", sure)

    told = summary(run(trial("--kind", "equal")))

    assert told["held_of_pairs"] < 0.95
    assert told["false_differs"] > 0.2
    assert told["held_of_skeins"] < 0.8
