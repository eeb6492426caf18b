"""An experiment drawn and printed: what stands in its charts and on its tags."""

import re
import shutil
import subprocess

import numpy as np
import pytest

from dyewright.sheets.experiment import FactorPoint, SampleCurve, factor_chart, overlay_chart
from dyewright.sheets.labels import TieOn, labels_pdf
from dyewright.sheets.pdf import qr_svg

T = np.linspace(0.0, 90.0, 31)


def curve(label, top, colour=None, looks=()):
    mid = top * (1 - np.exp(-T / 20))
    return SampleCurve(label, T, mid, 0.9 * mid, np.minimum(1.0, 1.1 * mid), colour, looks)


def texts(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def test_every_curve_has_its_number_its_colour_and_its_looks():
    svg = overlay_chart([curve("1", 0.97, "#387472", [(20.0, 0.5, "1")]), curve("2, 4", 0.6)], until_min=80.0)
    assert texts(svg).count("1") == 2  # at the end of its curve, and in the ring of its look
    assert "2, 4" in texts(svg)
    assert svg.count("#387472") == 2  # band and line
    assert "<script" not in svg


def test_a_look_past_the_axis_is_left_out():
    svg = overlay_chart([curve("1", 0.97, None, [(85.0, 0.9, "7")])], until_min=80.0)
    assert "7" not in texts(svg)


def test_labels_of_curves_that_end_together_do_not_cover_each_other():
    svg = overlay_chart([curve(str(n), 0.97) for n in range(1, 6)], until_min=80.0)
    heights = [
        float(found[1])
        for found in re.findall(r'<text[^>]*transform="translate\(([\d.]+),([\d.]+)\)"[^>]*font-weight="600"', svg)
    ]
    assert len(heights) == 5
    assert min(np.diff(sorted(heights))) > 12  # figures are 12 px high


def test_a_factor_is_drawn_over_its_steps_with_the_band_and_the_dots():
    points = [
        FactorPoint(3.0, "3", 60, 62, 64, 61.5),
        FactorPoint(5.0, "5", 64, 66, 68),
        FactorPoint(7.0, "7", seen=70),
    ]
    svg = factor_chart(points, title="Lightness L*")
    assert {"3", "5", "7", "Lightness L*"} <= set(texts(svg))
    assert "foretold" in svg


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="the system has no pdftotext")
def test_a_tag_says_its_number_and_what_it_stands_for(tmp_path):
    odd = 'pH 5 "#x" $1 *and* <b>'
    tags = [TieOn(str(n), odd, "How much acid", "26 November 2026") for n in range(1, 18)]
    file = tmp_path / "tags.pdf"
    file.write_bytes(labels_pdf("How much acid", tags, qr_svg("http://192.168.0.7:8000/experiments/1")))
    said = subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True).stdout
    assert said.count("How much acid") == 17
    assert "17" in said
    assert said.count("\f") == 2  # by hand: sixteen to a sheet
