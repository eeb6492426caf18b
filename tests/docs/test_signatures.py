"""Units live in names: every numeric parameter of a public core function says its unit, or stands in the glossary."""

import importlib
import inspect
import pkgutil
import re
import typing
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

import dyewright.core

GLOSSARY = Path(__file__).parents[2] / "docs" / "glossary.md"
# The units of core, one a dimension (docs/decisions/0001): no mL, seconds, percent or Fahrenheit, and kilograms only as
# a denominator.
SUFFIXES = (
    "_g", "_l", "_c", "_min", "_nm", "_mol_l", "_g_l", "_kg_l", "_kj_mol", "_mol_g", "_l_kg", "_mol_kg", "_meq_l",
    "_mg_l", "_per_min", "_per_g", "_frac", "_owf", "_px", "_w", "_m",
)  # fmt: skip
NOT_IN_CORE = re.compile(r"_(ml|oz|f|s|sec|h|percent|kcal|mm|cm)$")
ENTRY = re.compile(r"- `\w+`: .+ \(.+\)$")


def public_functions() -> Iterator[tuple[str, inspect.Signature]]:
    for module_info in pkgutil.walk_packages(dyewright.core.__path__, "dyewright.core."):
        module = importlib.import_module(module_info.name)
        for name in getattr(module, "__all__", []):
            thing = getattr(module, name)
            if inspect.isfunction(thing) and thing.__module__ == module.__name__:
                yield f"{module.__name__}.{name}", inspect.signature(thing)


def is_numeric(annotation: object) -> bool:
    """Return whether an annotation is a number, an array of numbers, or holds one (a union, a sequence, a mapping)."""
    if isinstance(annotation, typing.TypeVar):
        return any(is_numeric(one) for one in (annotation.__bound__, *annotation.__constraints__))
    kind = typing.get_origin(annotation) or annotation
    if isinstance(kind, type) and issubclass(kind, np.ndarray):
        return "bool" not in str(annotation)
    if isinstance(kind, type) and issubclass(kind, int | float | complex | np.number):
        return not issubclass(kind, bool)
    return any(is_numeric(one) for one in typing.get_args(annotation))


def numeric_parameters() -> Iterator[tuple[str, str]]:
    """Return function and name of every numeric parameter; `is_...` is a claim, or an array of claims."""
    for function, signature in public_functions():
        for parameter in signature.parameters.values():
            if is_numeric(parameter.annotation) and not parameter.name.startswith("is_"):
                yield function, parameter.name


def entries() -> list[str]:
    section = GLOSSARY.read_text(encoding="utf-8").split("## Pure numbers")[1].split("\n## ")[0]
    return [line for line in section.splitlines() if line.startswith("- ")]


def pure_numbers() -> set[str]:
    return {re.findall(r"`(\w+)`", line)[0] for line in entries()}


@pytest.mark.parametrize(
    ("annotation", "is_number"),
    [
        (float, True),
        (float | None, True),
        (ArrayLike, True),
        (NDArray[np.float64], True),
        (NDArray[np.float64] | None, True),
        (dict[str, float], True),
        (list[int], True),
        (bool, False),
        (NDArray[np.bool_], False),
        (str | None, False),
        (list[str], False),
    ],
)
def test_numbers_are_known_however_they_are_annotated(annotation, is_number):
    assert is_numeric(annotation) is is_number


def test_every_number_that_core_takes_has_a_unit_in_its_name_or_a_place_in_the_glossary():
    known = pure_numbers()
    unsaid = {
        f"{function}({name})"
        for function, name in numeric_parameters()
        if not name.endswith(SUFFIXES) and name not in known
    }
    assert not unsaid


def test_core_takes_no_unit_that_belongs_to_forms_and_print():
    known = pure_numbers()  # `difference_f` is ΔE_F, not Fahrenheit
    assert not {name for _, name in numeric_parameters() if NOT_IN_CORE.search(name) and name not in known}


def test_the_glossary_holds_no_name_that_core_does_not_use():
    assert not pure_numbers() - {name for _, name in numeric_parameters()}


def test_every_pure_number_has_a_meaning_and_a_range():
    assert not [line for line in entries() if not ENTRY.match(line)]
