"""What pots taught, as pages show it: a dye on the shelf, the studio's eye, and a run foretold and seen."""

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy.orm import Session

from dyewright.core.learning import learnt
from dyewright.core.model import Band, ClearTime, Lesson, Observed, Progress, Run, RunState, Sheet
from dyewright.core.uptake import CLEAR_READING
from dyewright.data.uptake import load_uptake
from dyewright.records import lessons as records_of
from dyewright.services.forecasting.grounds import (
    YARN_WORDS,
    HalfUptake,
    eye_words,
    half_uptake,
    pots_words,
    subjects_of,
    thing_of,
)
from dyewright.services.forecasting.inputs import modelled_dyes
from dyewright.services.forecasting.seen import observed_in
from dyewright.services.learning.foretold import AFTER, BEFORE, Foretold, foretold_in
from dyewright.services.learning.lessons import learnt_for
from dyewright.services.learning.surprises import otherwise, reasons
from dyewright.services.unplain import from_plain
from dyewright.units import show_percent, show_temperature

__all__ = ["DyeTaught", "ForetoldRow", "RunTaught", "YarnTaught", "run_taught", "shelf_taught"]

NOT_SEEN = "not read"
MOVED_C = 1.0  # a half uptake that moves less is not worth a sentence


@dataclass(frozen=True)
class YarnTaught:
    """One kind of yarn in a dye's table: pots, and half uptake as learnt and as the class says, in words."""

    yarn: str
    pots: int
    half: str
    of_class: str


@dataclass(frozen=True)
class DyeTaught:
    """What pots taught of a dye: one sentence, and a line for each kind of yarn."""

    words: str
    yarns: tuple[YarnTaught, ...]


@dataclass(frozen=True)
class ForetoldRow:
    """One line of a run foretold and seen."""

    what: str
    before: str
    seen: str
    after: str


@dataclass(frozen=True)
class RunTaught:
    """A run foretold and seen: the answer, the lines, why it may have gone otherwise, and what it taught.

    Before the dyeing it has only title and answer. `narrowed` is how pots have narrowed what class estimates alone
    would say of when the bath clears.
    """

    title: str
    answer: str
    narrowed: str
    rows: tuple[ForetoldRow, ...]
    otherwise: tuple[str, ...]
    reasons: tuple[str, ...]
    taught: tuple[str, ...]


def shelf_taught(session: Session) -> dict[str, object]:
    """Return what the studio's pots taught of each dye, by its name, and what its eye calls clear."""
    told = list(records_of.lessons(session).values())
    subjects = sorted({subject for one in told for subject in one.subjects}, key=lambda one: (one.dye, one.yarn))
    said = learnt(subjects, told)
    yarns: dict[str, list[YarnTaught]] = {}
    for place, subject in enumerate(subjects):
        yarn = YARN_WORDS.get(subject.yarn, subject.yarn.value)
        half = half_uptake(said, place)
        learnt_words, class_words = ("", "") if half is None else _halves(half)
        yarns.setdefault(subject.dye, []).append(YarnTaught(yarn, said.pots[place], learnt_words, class_words))
    taught = {dye: DyeTaught(_pots_on(each), tuple(each)) for dye, each in yarns.items()}
    return {"taught": taught, "eye": eye_words(said) if said.studio_pots else ""}


def _halves(half: HalfUptake) -> tuple[str, str]:
    return (
        f"{show_temperature(round(half.at_c))} ± {half.doubt_c:.0f}",
        f"{show_temperature(round(half.class_c))} ± {half.class_doubt_c:.0f}",
    )


def _pots_on(yarns: list[YarnTaught]) -> str:
    """Return "4 pots on wool, 1 on superwash wool"."""
    first, *others = sorted(yarns, key=lambda one: -one.pots)
    return ", ".join([f"{pots_words(first.pots)} on {first.yarn}", *(f"{one.pots} on {one.yarn}" for one in others)])


def run_taught(session: Session, run: Run, seen: Progress) -> RunTaught | None:
    """Return a run foretold and seen; None where nothing was foretold of it and nothing learnt."""
    told, kept = foretold_in(run), records_of.lesson(session, run.id)
    if BEFORE not in told and kept is None:
        return None
    sheet = from_plain(Sheet, run.sheet)
    observed = observed_in(seen, sheet)
    is_dyed = run.state in {RunState.DYED, RunState.KEPT}
    narrowed = _narrowed(told.get(BEFORE))
    if not is_dyed:
        return RunTaught("What your pots add", narrowed, "", (), (), (), ()) if narrowed else None
    found = otherwise(run, observed)
    moved = tuple(_moved(session, run, sheet)) if kept is not None and kept.subjects else ()
    why = reasons(sheet, seen, observed) if found else ()
    if found and not why:
        why = ("Nothing that was recorded explains it: it may be the dye itself, and its pots will tell.",)
    return RunTaught(
        title="Foretold and seen",
        answer=_answer(found=found, kept=kept, is_foretold=BEFORE in told),
        narrowed=narrowed,
        rows=tuple(_rows(told, observed)),
        otherwise=found,
        reasons=why,
        taught=moved,
    )


def _answer(*, found: tuple[str, ...], kept: Lesson | None, is_foretold: bool) -> str:
    if found:
        return "This pot went otherwise than foretold."
    if kept is None or not kept.readings:
        return "Nothing was read of this bath, so it taught nothing of its dyes."
    return "This pot went as foretold." if is_foretold else "This pot taught of its dyes."


def _narrowed(before: Foretold | None) -> str:
    """Return "Clear 25–55 min by class estimates alone, now 32–41 with what 3 pots of this studio taught."."""
    if before is None or before.untaught_clear_at_min is None:
        return ""
    alone, now = _span(before.untaught_clear_at_min), _span(before.clear_at_min)
    pots = max((part.pots for part in before.rests_on), default=0)
    if not alone or not now or not pots:
        return ""
    return f"Clear {alone} min by class estimates alone, now {now} with what {pots_words(pots)} of this studio taught."


def _span(when: ClearTime) -> str:
    if when.low is None:
        return ""
    return f"from {when.low:.0f}" if when.high is None else f"{when.low:.0f}–{when.high:.0f}"


def _rows(told: dict[str, Foretold], observed: Observed) -> Iterator[ForetoldRow]:
    """Yield what was foretold before, what was seen, and what was foretold once it had been."""
    before, after = told.get(BEFORE), told.get(AFTER)
    if before is None:
        return
    yield ForetoldRow("Looks clear, min", _clear(before), _seen_clear(observed), _clear(after))
    looks = observed.clarities
    last = show_percent(round(looks[-1].exhaustion, 2)) if looks else NOT_SEEN
    yield ForetoldRow("In at the end", _share(before), last, _share(after))
    rinses = NOT_SEEN if observed.rinses is None else f"{observed.rinses}"
    yield ForetoldRow("Rinses", _count(before.rinses), rinses, _count(None if after is None else after.rinses))
    if before.level:
        changed = "" if after is None or after.level == before.level else _short(after.level)
        yield ForetoldRow("Evenness", _short(before.level), "", changed)


def _short(rating: str) -> str:
    return rating.partition(",")[0]


def _clear(told: Foretold | None) -> str:
    if told is None:
        return ""
    when = told.clear_at_min
    if when.never_frac is None:
        return "not known"
    span = _span(when)
    return span or "a tint stays"


def _seen_clear(observed: Observed) -> str:
    clears = [look.at_min for look in observed.clarities if look.exhaustion >= CLEAR_READING]
    if clears:
        return f"{min(clears):.0f}"
    return "not yet" if observed.clarities else NOT_SEEN


def _share(told: Foretold | None) -> str:
    band = None if told is None else told.final_exhaustion
    if band is None or band.low is None or band.high is None:
        return ""
    return f"{100 * band.low:.0f}–{100 * band.high:.0f} %"


def _count(band: Band | None) -> str:
    if band is None or band.low is None or band.high is None:
        return ""
    return f"{band.low:.0f}" if band.low == band.high else f"{band.low:.0f}–{band.high:.0f}"


def _moved(session: Session, run: Run, sheet: Sheet) -> Iterator[str]:
    """Yield how a run moved the half uptake of each of its dyes: with the pots before it, and with its own."""
    subjects = subjects_of(sheet, modelled_dyes(sheet, load_uptake()))
    before = learnt_for(session, sheet, before_number=run.number) or learnt(subjects, [])
    after = learnt_for(session, sheet, before_number=run.number + 1)
    for place, subject in enumerate(subjects):
        old, new = half_uptake(before, place), None if after is None else half_uptake(after, place)
        if old is None or new is None:
            continue
        if abs(new.at_c - old.at_c) < MOVED_C:
            yield f"{thing_of(subject)}: half uptake stays at {show_temperature(round(new.at_c))} ± {new.doubt_c:.0f}."
        else:
            yield (
                f"{thing_of(subject)}: half uptake moves from {old.at_c:.0f} to "
                f"{show_temperature(round(new.at_c))} ± {new.doubt_c:.0f}."
            )
