"""The printed sheet: read back from the PDF where the system can, else from the text it is set from."""

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from dyewright.core.model import Band
from dyewright.errors import StudioError
from dyewright.services import paper
from dyewright.services.forecasting.expected import count_words, expected_lines
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.planning import plan, read_card
from dyewright.sheets.charts import Theme

EXTRAS = {"run_url": "http://studio.local/runs/7", "swatch_hex": "#2f5f6b", "swatch_words": "Predicted."}
EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


@pytest.fixture(scope="module")
def sheet():
    return plan(read_card((EXAMPLES / "choir-shawls.toml").read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def pdf(sheet):
    return paper.print_sheet(
        sheet, run_url="http://studio.local/runs/7", swatch_hex="#2f5f6b", swatch_words="Predicted."
    )


def pdf_text(content, tmp_path):
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not on this machine")
    file = tmp_path / "sheet.pdf"
    file.write_bytes(content)
    return subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True).stdout


def test_the_pdf_says_what_the_sheet_says(sheet, pdf, tmp_path):
    text = " ".join(pdf_text(pdf, tmp_path).split())
    for words in (sheet.title, "7 skeins", "Large pot", "Screen and print colours are", "back to the run", "19.7"):
        assert words in text
    for step in sheet.steps:
        assert " ".join(step.title.split()) in text
    assert text.count("Never near bleach") >= 2  # at both additions of acid, not in a footer


def test_the_pdf_takes_two_pages_and_is_a4(pdf, tmp_path):
    text = pdf_text(pdf, tmp_path)
    assert text.count("\f") == 2
    assert "Page 1 of 2" in text
    assert b"595.27" in pdf or b"595.28" in pdf  # A4 is 210 mm, 595.28 pt wide (ISO 216)


def test_the_same_sheet_gives_the_same_bytes(sheet, pdf):
    again = paper.print_sheet(sheet, **EXTRAS)
    assert again == pdf
    assert pdf.startswith(b"%PDF-")


def test_neither_swatch_nor_code_is_needed(sheet):
    page = paper.paper_of(sheet)
    assert page.qr_svg is None
    assert paper.print_sheet(sheet).startswith(b"%PDF-")


def test_titles_may_hold_any_sign(sheet):
    odd = replace(sheet, title='Say "#let x = 1" & <b>*bold*</b> \\ $y$')
    assert paper.print_sheet(odd).startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("at_min", "text"), [(None, "before"), (0.0, "0:00"), (90.0, "1:30"), (-25.2, "\u22120:25"), (0.4, "0:00")]
)
def test_the_clock_counts_from_heat_on(at_min, text):
    assert paper.clock(at_min) == text


def test_the_great_figures_answer_first(sheet):
    figures = {figure.label: figure for figure in paper.figures_of(sheet)}
    assert figures["Heat to"].value == "85\u202f°C"
    assert "–" in figures["pH, just mixed"].value  # the water is unknown: a range
    assert figures["Pot stands full to"].detail == "the fullest of 2 pots"


def test_yarn_is_named_in_one_line(sheet):
    assert paper.yarn_words(sheet) == "1.1\u202fkg of wool 70\u202f%, silk 30\u202f% in 11 skeins"


def test_a_place_that_cannot_be_written_is_named(sheet, tmp_path):
    with pytest.raises(StudioError, match="cannot be written to"):
        paper.write_pdf(sheet, tmp_path / "no" / "such" / "folder.pdf")


def test_the_paper_says_what_to_expect_and_on_what_it_rests(sheet, tmp_path):
    told = forecast_from(sheet)
    text = " ".join(pdf_text(paper.print_sheet(sheet, told=told), tmp_path).split())
    assert "What to expect From class defaults" in text
    for line in expected_lines(told):
        assert " ".join(line.value.split()[:3]) in text
    assert "Clear in rinse no." in text


def test_a_count_with_its_span_in_words():
    assert count_words(Band(mid=2.0, low=1.0, high=3.0)) == "2 (1–3)"
    assert count_words(Band(mid=1.0, low=1.0, high=1.0)) == "1"
    assert count_words(Band(mid=None, low=None, high=None)) == "not known"


def test_a_screen_shows_rinses_of_the_same_words_once_and_paper_ticks_each_off(sheet):
    five = plan(sheet.card, waters=lambda _: 5)
    on_screen = [step.title for step in paper.paper_of(five, theme=Theme.LIGHT).steps if "Rinse" in step.title]
    on_paper = [step.title for step in paper.paper_of(five).steps if "Rinse" in step.title]
    assert on_paper == [f"Rinse {number} of 5" for number in range(1, 6)]
    assert on_screen == ["Rinse 1 to 4 of 5", "Rinse 5 of 5"]
