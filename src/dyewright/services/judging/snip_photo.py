"""A snip at the pot, judged by photo beside what was meant: how far off, whether it is dry, and what to add."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.colour import difference_words
from dyewright.core.model import Basis, Judgement, Lab, Recipe, Run
from dyewright.core.wetting import is_as_wet
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError, NoMatchError, OutOfRangeError
from dyewright.records import photos, runs
from dyewright.services.colour_pages.slips import depths_of
from dyewright.services.judging.studio_ways import topping_up_of
from dyewright.services.judging.topping_up import ToppingUp, addition
from dyewright.services.judging.wet import guessed_dry
from dyewright.services.mix_doses import dose_of
from dyewright.services.shown import shown_hex

__all__ = ["SnipVerdict", "snip_page"]

MEANT = "meant"  # the colour that the verdict was held against, in place of a skein on the photo
CLOSE_DE00 = 1.0  # nearer than this nothing is to be added: the photo tells no finer (common practice for one lot)


@dataclass(frozen=True)
class SnipVerdict:
    """A snip against what was meant: the answer, the difference with its interval, and what to do.

    `low` and `high` are None where the photo gives no interval. `doses` are what to add to the pot, as text; `why_none`
    says why there are none. `is_wet_like` where the difference is just what water makes.
    """

    answer: str
    de00: float
    low: float | None
    high: float | None
    words: str
    snip_hex: str
    meant_hex: str
    is_wet_like: bool
    doses: tuple[str, ...] = ()
    left: str = ""
    why_none: str = ""


def snip_page(session: Session, judgement_id: UUID, typed: Mapping[str, str]) -> dict[str, object]:
    """Return what the page of a snip shows: which outline is the snip, what it is held against, and the verdict."""
    judgement = photos.judgement(session, judgement_id)
    result: Mapping[str, Any] = judgement.result
    run = None if judgement.run_id is None else runs.run(session, judgement.run_id)
    ids = [str(skein["id"]) for skein in result["skeins"]]
    has_target = any(skein.get("to_target") for skein in result["skeins"])
    choices = [(one, f"outline {one}") for one in ids] + ([(MEANT, "the colour that was meant")] if has_target else [])
    is_damp = "is_damp" in typed or ("snip" not in typed and judgement.marks.get("yarn") == "damp")
    first, second = [*ids, "", ""][:2]
    typed = {"snip": first, "against": MEANT if has_target and len(ids) == 1 else second} | dict(typed)
    view: dict[str, object] = {
        "judgement": judgement,
        "run": run,
        "choices": choices,
        "typed": typed,
        "is_damp": is_damp,
        "verdict": None,
        "guess": None,
        "error": None,
        "next_time": _next_time(judgement, run, typed),
    }
    try:
        snip, meant = _skein(result, typed["snip"], "snip"), _against(result, typed)
        view["verdict"] = _verdict(session, judgement, run, (snip, meant), is_damp=is_damp)
    except InputError as error:
        return {**view, "error": error}
    if is_damp and result.get("basis") != Basis.RELATIVE:
        view["guess"] = guessed_dry(session, None if run is None else run.base_id, _lab(snip["lab"]))
    return view


def _skein(result: Mapping[str, Any], number: str, field: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] | None = next((one for one in result["skeins"] if str(one["id"]) == number), None)
    if found is None:
        raise InputError(
            "this photo shows one outline or none: mark the snip, and beside it what it is to match", field=field
        )
    return found


def _against(result: Mapping[str, Any], typed: Mapping[str, str]) -> Mapping[str, Any] | None:
    """Return the outline that the snip is held against; None for the colour that was meant.

    Raises:
        InputError: it is the snip itself, or there is no such outline.
    """
    if typed["against"] == MEANT:
        return None
    if typed["against"] == typed["snip"]:
        raise InputError("the snip cannot be held against itself: choose another outline", field="against")
    return _skein(result, typed["against"], "against")


def _verdict(
    session: Session,
    judgement: Judgement,
    run: Run | None,
    both: tuple[Mapping[str, Any], Mapping[str, Any] | None],
    *,
    is_damp: bool,
) -> SnipVerdict:
    snip, meant = both
    result: Mapping[str, Any] = judgement.result
    off = _difference(result, snip, meant)
    snip_lab, meant_lab = _lab(snip["lab"]), _meant_lab(judgement, meant)
    said = SnipVerdict(
        answer=_answer(off, is_damp=is_damp),
        de00=off["de00"],
        low=off.get("low"),
        high=off.get("high"),
        words=off["words"],
        snip_hex=shown_hex(snip_lab),
        meant_hex="" if meant_lab is None else shown_hex(meant_lab),
        is_wet_like=not is_damp and meant_lab is not None and _is_as_wet(snip_lab, meant_lab),
    )
    why_none = _why_none(result, off, is_damp=is_damp)
    if why_none or meant_lab is None:
        return replace(said, why_none=why_none)
    return _with_doses(session, run, said, (snip_lab, meant_lab))


def _difference(result: Mapping[str, Any], snip: Mapping[str, Any], meant: Mapping[str, Any] | None) -> dict[str, Any]:
    """Return the difference with its interval, in words from what was meant to the snip."""
    if meant is None:
        if not snip.get("to_target"):
            raise InputError("this verdict was held against no colour: choose another outline", field="against")
        return dict(snip["to_target"])
    ids = {snip["id"], meant["id"]}
    pair = next(one for one in result["pairs"] if {one["a"], one["b"]} == ids)
    return {**pair, "words": difference_words(_lab(meant["lab"]), _lab(snip["lab"]))}


def _meant_lab(judgement: Judgement, meant: Mapping[str, Any] | None) -> Lab | None:
    if meant is not None:
        return _lab(meant["lab"])
    target: Any = judgement.result.get("target")
    return None if target is None else _lab(target)


def _answer(off: Mapping[str, Any], *, is_damp: bool) -> str:
    if is_damp:
        return "Wet, so darker: dry it first."
    if off["high"] < CLOSE_DE00:
        return "It is there: add nothing."
    if off["low"] < CLOSE_DE00:
        return "This photo cannot tell whether it is there."
    return f"The snip is {off['words']}."


def _why_none(result: Mapping[str, Any], off: Mapping[str, Any], *, is_damp: bool) -> str:
    if is_damp:
        return "What a damp snip lacks cannot be weighed: press it in a cloth, dry it in warm air, and judge it again."
    if result.get("basis") == Basis.RELATIVE:
        return "Without a chart the colour is not known well enough for a recipe; the difference is."
    if off["low"] < CLOSE_DE00:
        return "The difference may be the photo's alone: nothing is to be added for it."
    return ""


def _with_doses(session: Session, run: Run | None, said: SnipVerdict, labs: tuple[Lab, Lab]) -> SnipVerdict:
    """Return the verdict with what to add to the pot, or why nothing on the shelf helps."""
    try:
        bench = topping_up_of(session, run)
        if run is not None:
            sheet: Mapping[str, Any] = run.sheet
            bench = replace(bench, dry_g=float(sheet["dry_g"]))
        recipe = addition(*labs, bench)
    except (InputError, NoMatchError) as error:
        return replace(said, why_none=f"No recipe: {error.message}.")
    if recipe is None or recipe.de00 >= said.de00:
        return replace(said, why_none="No dye that has a swatch brings it nearer: dye only darkens.")
    return replace(said, doses=_doses(recipe, bench), left=_left(recipe, bench))


def _doses(recipe: Recipe, bench: ToppingUp) -> tuple[str, ...]:
    doses = [dose_of(name, depth, bench.dry_g, bench.scale_g) for name, depth in depths_of(recipe).items()]
    return tuple(f"{dose.amount} of {dose.label}" for dose in doses)


def _left(recipe: Recipe, bench: ToppingUp) -> str:
    return (
        f"For {units.show_mass(bench.dry_g)} of dry yarn. Foretold {recipe.de00:.1f} ΔE00 from it then, sure to "
        f"± {recipe.de00_95:.1f}, if all of it goes in."
    )


def _next_time(judgement: Judgement, run: Run | None, typed: Mapping[str, str]) -> str | None:
    """Return the address part of the colourway's page where this snip moves the recipe for the next pot."""
    if run is None or run.colourway_id is None or judgement.result.get("basis") == Basis.RELATIVE:
        return None
    query = urlencode({"snip_skein": f"photo {judgement.id} {typed['snip']}"})
    return f"{run.colourway_id}?{query}#snip"


def _is_as_wet(snip: Lab, meant: Lab) -> bool:
    try:
        return is_as_wet(snip, meant, load_observer_tables())
    except OutOfRangeError:
        return False


def _lab(values: Sequence[float]) -> Lab:
    lightness, red_green, yellow_blue = (float(value) for value in values)
    return lightness, red_green, yellow_blue
