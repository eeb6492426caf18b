"""What was learnt of a dye, in a dyer's words: the temperature at which half of it is in, and the pots that say so."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from dyewright.core.learning import prior_variance
from dyewright.core.model import (
    PER_SUBJECT,
    Basis,
    DyeClass,
    Fibre,
    FibreGroup,
    Learnt,
    RestsOn,
    Sheet,
    Subject,
    Trust,
    UptakeRow,
)
from dyewright.core.uptake import at_shifts, class_prior_sd, t50_of_k95
from dyewright.data.uptake import load_uptake
from dyewright.services.card_defaults import fibre_group
from dyewright.services.forecasting.inputs import ACID_KINDS, ModelledDyes
from dyewright.units import show_temperature

__all__ = [
    "HalfUptake",
    "bands_note",
    "basis_of",
    "eye_words",
    "half_uptake",
    "half_words",
    "pots_words",
    "rests_on",
    "subjects_of",
    "thing_of",
]

CLASS_DEFAULT = (
    "The bands rest on class defaults, which are estimates, not on pots of this studio: nine of ten pots should lie "
    "within them."
)
PARTLY_LEARNT = (
    "The bands rest on pots of this studio as far as they go, for the rest on class defaults, which are estimates: "
    "nine of ten pots should lie within them."
)

MAIN_FIBRE = {
    FibreGroup.WOOL: Fibre.WOOL,
    FibreGroup.SUPERWASH: Fibre.WOOL,
    FibreGroup.SILK: Fibre.SILK,
    FibreGroup.NYLON: Fibre.NYLON,
}
YARN_WORDS = {FibreGroup.SILK: "silk and its blends", FibreGroup.NYLON: "nylon and its blends"}
TRUST_WORDS = {Trust.PUBLISHED: "published", Trust.FROM_MEMORY: "from memory", Trust.ESTIMATE: "estimate"}
LEANS_FROM = 0.97  # of the class's variance: what is left where kin pots say something worth a word
EYE_FROM = 1.05  # nearer to the usual limit than a twentieth, an eye is as usual


@dataclass(frozen=True)
class HalfUptake:
    """The temperature of half uptake as learnt and as the class says, °C; the doubts hold two pots of three."""

    at_c: float
    doubt_c: float
    class_c: float
    class_doubt_c: float


def subjects_of(sheet: Sheet, modelled: ModelledDyes) -> tuple[Subject, ...]:
    """Return the dyes of a sheet that have a model, each on the sheet's kind of yarn."""
    yarn, dyes = fibre_group(sheet.card.yarn), sheet.card.dyes
    return tuple(Subject(dyes[place].name, dyes[place].dye_class, yarn) for place in modelled.places)


def thing_of(subject: Subject) -> str:
    """Return a subject in words: "Lagoon on wool"."""
    return f"{subject.dye} on {YARN_WORDS.get(subject.yarn, subject.yarn.value)}"


def half_uptake(said: Learnt, place: int) -> HalfUptake | None:
    """Return what is known of one subject's half uptake; None on a yarn or of a class without a model.

    The temperature is that of the usual ramp of 1 °C/min from 40 °C, on the yarn's main fibre.
    """
    subject, number = said.subjects[place], PER_SUBJECT * place
    kinds = _kinds_of(subject)
    if kinds is None:
        return None
    sd, prior_sd = np.sqrt(said.covariance[number][number]), np.sqrt(prior_variance(subject)[0])
    shifts = np.zeros((6, PER_SUBJECT + 1))
    shifts[:, 0] = [*(said.mean[number] + sd * np.array([-1, 0, 1])), *(prior_sd * np.array([-1, 0, 1]))]
    ensemble = at_shifts([kinds], [1.0], shifts, is_superwash=subject.yarn is FibreGroup.SUPERWASH)
    low, mid, high, class_low, class_mid, class_high = t50_of_k95(
        ensemble.k95_per_min[:, 0, 0], ensemble.ea_kj_mol[:, 0, 0]
    ).tolist()
    return HalfUptake(mid, 0.5 * (high - low), class_mid, 0.5 * (class_high - class_low))


def half_words(half: HalfUptake) -> str:
    """Return a half uptake beside its class's: "half uptake at 66 °C ± 3, class says 72 ± 5"."""
    return (
        f"half uptake at {show_temperature(round(half.at_c))} ± {half.doubt_c:.0f}, class says "
        f"{half.class_c:.0f} ± {half.class_doubt_c:.0f}"
    )


def pots_words(pots: int) -> str:
    """Return a number of pots in words."""
    return "1 pot" if pots == 1 else f"{pots} pots"


def eye_words(said: Learnt) -> str:
    """Return what the studio's eye calls clear, against the usual limit."""
    factor = float(np.exp(said.mean[-1]))
    if 1 / EYE_FROM < factor < EYE_FROM:
        found = "the usual limit"
    elif factor > 1:
        found = f"{factor:.1f} times the usual limit: you call a bath clear sooner"
    else:
        found = f"{factor:.1f} times the usual limit: you look for a paler bath"
    return f"your eye over {pots_words(said.studio_pots)}: {found}"


def basis_of(said: Learnt | None) -> Basis:
    """Return what a forecast leans on before its own bath was looked at: pots of its dyes, or the class defaults."""
    return Basis.FITTED if said is not None and any(said.pots) else Basis.DEFAULT


def bands_note(said: Learnt | None) -> str:
    """Return the sentence on what the bands rest on."""
    return CLASS_DEFAULT if basis_of(said) is Basis.DEFAULT else PARTLY_LEARNT


def rests_on(sheet: Sheet, modelled: ModelledDyes, said: Learnt | None) -> tuple[RestsOn, ...]:
    """Return where the numbers of a forecast come from: for each dye, what looks clear, and how even it comes out."""
    subjects = subjects_of(sheet, modelled)
    dyes = [_dye_rests_on(subject, modelled.kinds[n], said, n) for n, subject in enumerate(subjects)]
    return (*dyes, *_studio_rests_on(said))


def _dye_rests_on(subject: Subject, kinds: tuple[tuple[UptakeRow, ...], ...], said: Learnt | None, n: int) -> RestsOn:
    if said is not None and said.pots[n]:
        half = half_uptake(said, n)
        words = f"{pots_words(said.pots[n])} of this studio"
        return RestsOn(thing_of(subject), words if half is None else f"{words}: {half_words(half)}", said.pots[n])
    trust = kinds[0][0].trust
    told = ", ".join(
        f"{name} {TRUST_WORDS.get(trust[key], trust[key].value)}"
        for key, name in (("t50", "half uptake"), ("ea", "activation energy"), ("equilibrium", "final uptake"))
        if key in trust
    )
    words = f"class estimate ({told})" if told else "class estimate"
    if said is not None and said.covariance[PER_SUBJECT * n][PER_SUBJECT * n] < LEANS_FROM * class_prior_sd(1)[0] ** 2:
        words += ", drawn towards what related dyes and yarns taught in this studio"
    return RestsOn(thing_of(subject), words)


def _studio_rests_on(said: Learnt | None) -> Iterator[RestsOn]:
    if said is not None and said.studio_pots:
        yield RestsOn("What looks clear", eye_words(said), said.studio_pots)
    else:
        yield RestsOn("What looks clear", "the usual limit, a factor of 2 either way (estimate)")
    if said is not None and said.level_pots:
        evens = f"your handling evens out {math.exp(said.ln_movement):.1f} times the usual"
        words = f"{pots_words(said.level_pots)} judged in this studio: {evens}"
        yield RestsOn("What comes out even", words, said.level_pots)
    else:
        yield RestsOn("What comes out even", "percent of a dye a turn: published; how much a kettle moves: estimate")


def _kinds_of(subject: Subject) -> list[tuple[UptakeRow]] | None:
    """Return the rows of what a subject may be on its yarn's main fibre; None where the table has none."""
    rows, fibre = load_uptake().rows, MAIN_FIBRE.get(subject.yarn)
    classes = ACID_KINDS if subject.dye_class is DyeClass.ACID_UNKNOWN else (subject.dye_class,)
    if fibre is None or any((fibre, one) not in rows for one in classes):
        return None
    return [(rows[fibre, one],) for one in classes]
