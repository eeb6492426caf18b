"""The sheet of one dyeing as a PDF on A4 that also prints on US Letter: to tick off and to write on at the pot."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from importlib.resources import as_file, files
from io import BytesIO

__all__ = ["Figure", "PaperSheet", "PaperStep", "WeightRow", "qr_svg", "set_in_type", "sheet_pdf"]


@dataclass(frozen=True)
class Figure:
    """One of the great figures at the head of the sheet."""

    label: str
    value: str
    detail: str


@dataclass(frozen=True)
class WeightRow:
    """One thing to weigh or measure: the amount, the same by another measure, when, and each pot's share."""

    name: str
    detail: str
    amount: str
    other: str
    when: str
    pots: Sequence[str] = ()


@dataclass(frozen=True)
class PaperStep:
    """One step with its planned clock ("1:30" from heat on) and how long it lasts."""

    clock: str
    lasts: str | None
    title: str
    text: str
    caution: str | None


@dataclass(frozen=True)
class PaperSheet:
    """Everything on the paper, as text ready to set. `cautions` are those that hold throughout.

    `expected` is what the forecast says, `expected_from` what that rests on.
    """

    title: str
    subtitle: str
    figures: Sequence[Figure]
    weights: Sequence[WeightRow]
    pot_names: Sequence[str]
    steps: Sequence[PaperStep]
    cautions: Sequence[str]
    notes: Sequence[str]
    footer: str
    chart_svg: str | None = None
    chart_words: str = ""
    swatch_hex: str | None = None
    swatch_words: str = ""
    qr_svg: str | None = None
    expected: Sequence[Figure] = ()
    expected_from: str = ""


def qr_svg(url: str) -> str:
    """Return a QR code of an address as SVG, without border, in black."""
    import segno

    buffer = BytesIO()
    segno.make_qr(url, error="m").save(buffer, kind="svg", border=0, xmldecl=False)
    return buffer.getvalue().decode("utf-8")


def sheet_pdf(paper: PaperSheet) -> bytes:
    """Return the sheet as PDF bytes; the same sheet gives the same bytes."""
    return set_in_type("sheet.typ", asdict(paper))


def set_in_type(template: str, data: Mapping[str, object]) -> bytes:
    """Return the PDF that a template of this package makes of some data; the same data give the same bytes."""
    import typst

    package = files("dyewright.sheets")
    with as_file(package.joinpath("templates")) as templates, as_file(package.joinpath("fonts")) as fonts:
        content = typst.compile(
            str(templates / template),
            root=str(templates),
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
        )
    return bytes(content)
