"""When things go into a bath: one moment of an assistant, the moments of a dye that goes in by equal parts."""

from collections.abc import Sequence

from dyewright import units
from dyewright.core.model import When, WhenKind
from dyewright.errors import InputError
from dyewright.files.cards.tables import Table

__all__ = ["dye_moments", "moment", "moment_text"]

MOST_PARTS = 6
# The usual moments of a dye in parts: common practice, no source.
USUAL_MOMENTS = {
    1: (When(),),
    2: (When(), When(WhenKind.MINUTE, 20.0)),
    3: (When(), When(WhenKind.MINUTE, 15.0), When(WhenKind.MINUTE, 30.0)),
}


def moment(table: Table) -> When:
    """Return the moment of an addition: "soak", "start", "70 C" or "20 min"; the start where nothing is said."""
    text = table.text("when")
    found = When() if text is None else _read(text)
    if found is None:
        raise table.wrong("when", "write soak, start, a temperature such as '70 C', or a time such as '20 min'")
    return found


def dye_moments(table: Table) -> tuple[When, ...]:
    """Return when a dye goes in: a list of moments, or a number of equal parts at the usual ones.

    A form writes the moments in one line, with commas.
    """
    texts, parts = _listed(table), table.number("parts")
    if parts is not None and (parts != int(parts) or not 1 <= parts <= MOST_PARTS):
        raise table.wrong("parts", f"a dye goes in by 1 to {MOST_PARTS} equal parts", limit=MOST_PARTS)
    if not texts:
        return _usual(table, 1 if parts is None else int(parts))
    moments = tuple(_dye_moment(table, text) for text in texts)
    if len(set(moments)) < len(moments):
        raise table.wrong("when", "each part needs a moment of its own")
    if len(moments) > MOST_PARTS:
        raise table.wrong("when", f"a dye goes in by {MOST_PARTS} parts at most", limit=MOST_PARTS)
    if parts is not None and len(moments) != parts:
        raise table.wrong("when", f"{len(moments)} moments are named for {parts:g} parts; name as many, or none")
    return moments


def _listed(table: Table) -> Sequence[str]:
    """Return the moments as they are written; none where nothing is said."""
    given = table.values.get("when")
    if isinstance(given, Sequence) and not isinstance(given, str):
        if not given or not all(isinstance(text, str) for text in given):
            raise table.wrong("when", 'write moments in quotation marks: ["start", "20 min"]')
        return [str(text) for text in given]
    text = table.text("when")
    return [] if text is None else [part for part in text.replace(";", ",").split(",") if part.strip()]


def _usual(table: Table, parts: int) -> tuple[When, ...]:
    if parts not in USUAL_MOMENTS:
        raise table.wrong("parts", 'name the moment of every part with when: ["start", "10 min", "20 min", …]')
    return USUAL_MOMENTS[parts]


def _dye_moment(table: Table, text: str) -> When:
    found = _read(text)
    if found is None or found.kind is WhenKind.SOAK:
        raise table.wrong(
            "when", f"'{text.strip()}' is no moment for a dye; write start, a temperature as '75 C', a time as '20 min'"
        )
    return found


def _read(text: str) -> When | None:
    word = text.strip().casefold()
    if word in {WhenKind.START.value, WhenKind.SOAK.value}:
        return When(WhenKind(word))
    for kind, read in ((WhenKind.TEMPERATURE, units.temperature_c), (WhenKind.MINUTE, units.duration_min)):
        try:
            return When(kind, read(text))
        except InputError:
            continue
    return None


def moment_text(when: When) -> str:
    """Return a moment as a card writes it."""
    match when.kind:
        case WhenKind.SOAK | WhenKind.START:
            return when.kind.value
        case WhenKind.TEMPERATURE:
            return f"{when.value or 0.0:.15g} C"
        case WhenKind.MINUTE:
            return f"{when.value or 0.0:.15g} min"
