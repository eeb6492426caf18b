"""A swatch evening on paper, read back from the PDF where the system can."""

import shutil
import subprocess

import pytest

from dyewright.sheets.evening import (
    PaperDose,
    PaperEvening,
    PaperJar,
    PaperStock,
    SwatchCard,
    cards_pdf,
    evening_pdf,
)
from dyewright.sheets.pdf import Figure, PaperStep

ODD = 'Lagoon "#x" $1 % *and* <b>'


def paper(jars=8):
    dose = PaperDose("Lagoon, 1 %", "5.0 mL")
    return PaperEvening(
        title="Ladders",
        subtitle="8 jars",
        figures=[Figure("Heat to", "96 °C", "in the pot")] * 4,
        jars=[PaperJar(n, ODD, "5 g", f"Seat {n}", "190 mL", [dose] * 3, [dose]) for n in range(1, jars + 1)],
        stocks=[PaperStock("Lagoon, 1 %", "1 g made up to 100 mL", "40.0 mL", "jar 1 5.0 mL")],
        steps=[PaperStep("0:00", "30 min", f"Step {n}", "Do it. " * 12, "Glass cracks.") for n in range(16)],
        cautions=["This sheet advises."],
        notes=["A note."],
        footer="Dyewright",
    )


def card(number):
    return SwatchCard(number, ODD, "Fellside wool", "26 November 2026", "Lagoon 26-A", "L* 45", "teal", "#387472", "A")


def read(content, tmp_path):
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not on this machine")
    file = tmp_path / "it.pdf"
    file.write_bytes(content)
    return subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True).stdout


def test_an_evening_is_one_sheet_of_paper_printed_on_both_sides(tmp_path):
    text = read(evening_pdf(paper()), tmp_path)
    assert text.count("\f") == 2
    assert "Page 1 of 2" in text
    assert "Seat 8" in text
    assert text.count("Glass cracks.") == 16
    assert "This sheet advises." in text


@pytest.mark.parametrize(("cards", "pages"), [(1, 1), (10, 1), (11, 2)])
def test_ten_cards_lie_on_a_page(cards, pages, tmp_path):
    text = read(cards_pdf("Ladders", [card(n) for n in range(1, cards + 1)]), tmp_path)
    assert text.count("\f") == pages
    assert text.count("Fellside wool") == cards


def test_a_recipe_may_hold_any_sign(tmp_path):
    assert ODD in " ".join(read(cards_pdf("Ladders", [card(1)]), tmp_path).split())


def test_the_same_evening_gives_the_same_bytes():
    assert evening_pdf(paper(2)) == evening_pdf(paper(2))
