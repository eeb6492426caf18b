"""Measurement files in the open XML format CxF3 (ISO 17972-1), read into rows of named cells.

Element and attribute names are from memory of the standard. Whatever this reader does not know, vendors' own elements
among it, is passed over; so are the namespace and its version. A document type declaration is refused, and with it
every entity: a measurement file needs none.
"""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from dyewright.errors import InputError

__all__ = ["is_cxf", "read_cxf"]

_LAB = {"L": "L", "A": "a", "B": "b"}
_SPACES_AND_COMMAS = re.compile(r"[\s;]+")
_FEWEST_VALUES = 8  # of a spectrum; fewer is no curve


@dataclass(frozen=True)
class _Specification:
    """What a colour specification says of the values that name it; None and empty where it does not."""

    light: Mapping[str, str] = field(default_factory=dict)
    start_nm: float | None = None
    increment_nm: float | None = None


def is_cxf(data: bytes) -> bool:
    """Return whether a file is XML rather than a text table."""
    return data.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0").startswith(b"<")


def read_cxf(data: bytes, name: str) -> list[tuple[str, dict[str, str]]]:
    """Return the measured objects of a CxF3 file: what each is called there, and its cells by column.

    Several spectra of one object under the same specification are several readings: a row each. Tags of an object
    become cells by their names in small letters, so that a recipe may stand there as well as in the object's name.

    Raises:
        InputError: the file is not well-formed XML, declares a document type, or holds no colour.
    """
    root = _parsed(data, name)
    if _local(root.tag) != "CxF":
        raise InputError(f"{name} is XML but not CxF: its outermost element is {_local(root.tag)}", field="swatches")
    known = {one.get("Id", ""): _specification(one) for one in _all(root, "ColorSpecification")}
    rows = [row for one in _all(root, "Object") for row in _rows_of(one, known, name)]
    if not rows:
        raise InputError(
            f"{name} holds no object with a ReflectanceSpectrum or ColorCIELab: export it with measured colours",
            field="swatches",
        )
    return rows


class _NoDoctype(ET.TreeBuilder):
    """Builds the tree, unless a document type is declared."""

    def doctype(self, *_: object) -> None:
        """Refuse: entities can be made to grow without end, or to fetch."""
        raise InputError("", field="swatches")


def _parsed(data: bytes, name: str) -> ET.Element:
    parser = ET.XMLParser(target=_NoDoctype())  # noqa: S314 - see _NoDoctype
    try:
        parser.feed(data)
        root: ET.Element = parser.close()
    except InputError:
        raise InputError(
            f"{name} declares a document type (DOCTYPE), which a measurement file needs not: it is not read",
            field="swatches",
        ) from None
    except (ET.ParseError, LookupError, ValueError) as error:
        raise InputError(f"{name} is not well-formed XML ({error}): export it again", field="swatches") from None
    return root


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def _all(element: ET.Element, name: str) -> Iterator[ET.Element]:
    return (one for one in element.iter() if _local(one.tag) == name)


def _text(element: ET.Element, name: str) -> str:
    return next(((one.text or "").strip() for one in _all(element, name)), "")


def _specification(element: ET.Element) -> _Specification:
    light = {}
    illuminant, observer = _text(element, "Illuminant"), _text(element, "Observer")
    if illuminant:
        light["illuminant"] = illuminant
    if degrees := re.match(r"(10|2)(?!\d)", observer):
        light["observer"] = degrees.group(1)
    places = next(_all(element, "WavelengthRange"), None)
    if places is None:
        return _Specification(light)
    return _Specification(light, _number(places.get("StartWL")), _number(places.get("Increment")))


def _number(text: str | None) -> float | None:
    try:
        return float((text or "").replace(",", "."))
    except ValueError:
        return None


def _rows_of(
    element: ET.Element, known: Mapping[str, _Specification], name: str
) -> Iterator[tuple[str, dict[str, str]]]:
    """Return the readings of one object: its curves where it has some, else its Labs; of the first specification."""
    label = element.get("Name", "") or element.get("Id", "") or "without a name"
    about = {"sample_name": element.get("Name", "")}
    about |= {tag.get("Name", "").lower(): tag.get("Value", "") for tag in _all(element, "Tag") if tag.get("Name")}
    curves = list(_all(element, "ReflectanceSpectrum"))
    measured = curves or list(_all(element, "ColorCIELab"))
    first = [one for one in measured if one.get("ColorSpecification") == measured[0].get("ColorSpecification")]
    for one in first:
        told = known.get(one.get("ColorSpecification", ""), _Specification())
        colour = _curve(one, told, f"{name}, object {label}") if curves else _lab(one)
        yield label, {**told.light, **about, **colour}


def _curve(element: ET.Element, told: _Specification, where: str) -> dict[str, str]:
    values = [value for value in _SPACES_AND_COMMAS.split((element.text or "").strip()) if value]
    own = _number(element.get("StartWL"))
    start = told.start_nm if own is None else own
    step = _number(element.get("Increment")) or told.increment_nm
    if start is None or not step or step < 0 or len(values) < _FEWEST_VALUES:
        raise InputError(
            f"{where}: {len(values)} values from {start or 0:g} nm by {step or 0:g} nm are no curve; the file must say "
            "StartWL and Increment of its spectra",
            field="swatches",
        )
    return {f"R{start + step * place:g}": value for place, value in enumerate(values)}


def _lab(element: ET.Element) -> dict[str, str]:
    return {axis: _text(element, tag) for tag, axis in _LAB.items()}
