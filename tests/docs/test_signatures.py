"""Units live in names: every numeric parameter of a public core function says its unit, or stands in the glossary."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path

import dyewright.core

GLOSSARY = Path(__file__).parents[2] / "docs" / "glossary.md"
SUFFIXES = (
    "_g", "_l", "_c", "_min", "_nm", "_mol_l", "_g_l", "_kj_mol", "_w", "_m", "_l_kg", "_mol_kg", "_meq_l", "_mg_l",
    "_per_min", "_frac", "_owf", "_meq_kg", "_c_per_min", "_kwh", "_px", "_l_l", "_kg", "_j_mol_k", "_l_per_min",
)  # fmt: skip
NUMERIC = re.compile(r"\b(float|int|ArrayLike|NDArray|Array|Floats|Curve)\b")


def public_functions() -> Iterator[tuple[str, inspect.Signature]]:
    for module_info in pkgutil.walk_packages(dyewright.core.__path__, "dyewright.core."):
        module = importlib.import_module(module_info.name)
        for name in getattr(module, "__all__", []):
            thing = getattr(module, name)
            if inspect.isfunction(thing) and thing.__module__ == module.__name__:
                yield f"{module.__name__}.{name}", inspect.signature(thing)


def pure_numbers() -> set[str]:
    section = GLOSSARY.read_text(encoding="utf-8").split("## Pure numbers")[1].split("\n## ")[0]
    return {
        name
        for line in section.splitlines()
        if line.startswith("- ")
        for name in re.findall(r"`(\w+)`", line.split(":")[0])
    }


def test_every_number_that_core_takes_has_a_unit_in_its_name_or_a_place_in_the_glossary():
    known = pure_numbers()
    unsaid = {
        f"{function}({parameter.name})"
        for function, signature in public_functions()
        for parameter in signature.parameters.values()
        if NUMERIC.search(str(parameter.annotation))
        and not parameter.name.endswith(SUFFIXES)
        and parameter.name not in known
    }
    assert not unsaid


def test_the_glossary_holds_no_name_that_core_does_not_use():
    used = {name for _, signature in public_functions() for name in signature.parameters}
    assert not pure_numbers() - used
