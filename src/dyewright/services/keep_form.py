"""The form that keeps a lot: the skeins of a verdict, the set each is sold with, and what their labels say."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any
from uuid import UUID

from dyewright import units
from dyewright.core.model import Judgement, Skein
from dyewright.core.skeins.verdict import of_skeins
from dyewright.errors import InputError
from dyewright.services import running
from dyewright.services.judging.labels import labels_of
from dyewright.services.running import RunView

__all__ = ["ForLabel", "KeepForm", "keep_form", "kept_from", "kept_skeins"]

Form = Mapping[str, str]
MOST_SETS = 26  # a letter each


@dataclass(frozen=True)
class ForLabel:
    """A sentence for the buyer that can be ticked: the field, the skeins it goes to, and whether it is ticked."""

    field: str
    sentence: str
    skeins: tuple[int, ...]
    on: str
    is_ticked: bool


@dataclass(frozen=True)
class KeepForm:
    """What a lot can be kept of: skeins with the sets proposed, the letters of sets to choose from, and label lines."""

    skeins: tuple[Skein, ...]
    letters: tuple[str, ...]
    judgement_id: UUID | None
    labels: tuple[ForLabel, ...]

    @property
    def is_from_label(self) -> bool:
        """Whether a sentence for the label is ticked, so that the form is shown open."""
        return any(line.is_ticked for line in self.labels)


def keep_form(view: RunView, typed: Form, *, label: str = "") -> KeepForm:
    """Return the form, from the newest verdict or the one it was filled in on; as planned where none was given.

    Args:
        view: the run.
        typed: the form as it was sent, where it was refused.
        label: the way out whose sentence for the buyer is ticked beforehand.
    """
    judgement = _judgement(view, typed)
    if judgement is None:
        return KeepForm(running.planned_skeins(view.run), (), None, ())
    skeins = _with_weights(running.judged_skeins(judgement), view)
    letters = tuple(chr(ord("A") + place) for place in range(min(len(skeins), MOST_SETS)))
    ways: Any = judgement.result.get("ways") or ()
    ticked = {name for name in typed if name.startswith("label_")} or {f"label_{label}"}
    labels = [_for_label(number, way, ticked) for number, way in enumerate(ways, start=1) if way["for_buyer"]]
    return KeepForm(skeins, letters if len(letters) > 1 else (), judgement.id, tuple(labels))


def _judgement(view: RunView, typed: Form) -> Judgement | None:
    """Return the verdict that the form belongs to; the newest where it names none."""
    of_form = [one for one in view.judgements if str(one.id) == typed.get("judgement_id")]
    return next(iter([*of_form, *view.judgements]), None)


def _with_weights(skeins: tuple[Skein, ...], view: RunView) -> tuple[Skein, ...]:
    mass_g = running.planned_skeins(view.run)[0].mass_g
    return tuple(replace(skein, mass_g=mass_g) for skein in skeins)


def _for_label(number: int, way: Mapping[str, Any], ticked: set[str]) -> ForLabel:
    field, skeins = f"label_{number}", labels_of(way)
    return ForLabel(field, way["for_buyer"], skeins, of_skeins(skeins), field in ticked)


def kept_from(view: RunView, typed: Form) -> UUID | None:
    """Return the verdict that the skeins of a form are from."""
    judgement = _judgement(view, typed)
    return None if judgement is None else judgement.id


def kept_skeins(view: RunView, typed: Form) -> list[Skein]:
    """Return the ticked skeins as typed: weight, note, the set each is sold with, the sentences for its buyer.

    Raises:
        InputError: a weight or a set that cannot be read.
    """
    form = keep_form(view, typed)
    return [_skein(skein, form, typed) for skein in form.skeins if f"skein_{skein.number}" in typed]


def _skein(offered: Skein, form: KeepForm, typed: Form) -> Skein:
    field = f"mass_{offered.number}"
    mass = typed.get(field, "").strip()
    grams = units.mass_g(mass, field=field, thing=f"skein {offered.number}", default_unit="g") if mass else None
    said = [line.sentence for line in form.labels if line.field in typed and offered.number in line.skeins]
    return replace(
        offered,
        mass_g=None if grams is None else round(Decimal(str(grams)), 3),
        note=typed.get(f"note_{offered.number}", "").strip(),
        matching_set=_set(offered, form, typed),
        caution=" ".join(said),
    )


def _set(offered: Skein, form: KeepForm, typed: Form) -> str | None:
    field = f"set_{offered.number}"
    letter = typed.get(field, "") or offered.matching_set
    if letter is not None and letter != offered.matching_set and letter not in form.letters:
        raise InputError(
            f"skein {offered.number} cannot go to set {letter!r}; the sets are {', '.join(form.letters) or 'none'}",
            field=field,
            value=letter,
        )
    return letter
