"""What pots teach: about each dye on each kind of yarn, and about the studio's own eye and hand.

A subject is one dye on one kind of yarn. Three numbers are learnt of it, each as a shift from the class default:
the temperature of half uptake in °C, the final uptake in its logit, and what there is to wash out in its natural
logarithm. One more belongs to the studio: the natural logarithm of what it calls clear over the usual limit.
A vector over some subjects holds the three of the first, the three of the second … and the studio's one at the end.
"""

from dataclasses import dataclass

from dyewright.core.model.dye import DyeClass
from dyewright.core.model.practice import FibreGroup

__all__ = ["PER_SUBJECT", "Learnt", "Lesson", "LevelLesson", "Subject"]

PER_SUBJECT = 3  # numbers learnt of a subject: T50 shift (°C), logit shift of the final uptake, ln of the rinse load


@dataclass(frozen=True)
class Subject:
    """A dye on a kind of yarn."""

    dye: str
    dye_class: DyeClass
    yarn: FibreGroup


@dataclass(frozen=True)
class LevelLesson:
    """How even a pot came out: its levelness index, and whether it was judged level.

    The index is the peak uptake over the limit before anything was learnt (ln_movement 0).
    """

    index: float
    is_level: bool
    evenness_de00: float


@dataclass(frozen=True)
class Lesson:
    """What one pot says: a Gaussian likelihood over its subjects' vector, as precision and precision times mean.

    `readings` counts what it rests on. `surprises` say in what the pot went otherwise than foretold, and why that may
    be.
    """

    subjects: tuple[Subject, ...]
    precision: tuple[tuple[float, ...], ...]
    pull: tuple[float, ...]
    readings: int
    level: LevelLesson | None = None
    surprises: tuple[str, ...] = ()


@dataclass(frozen=True)
class Learnt:
    """What is known before a pot: a Gaussian over its subjects' vector, pot-to-pot scatter included.

    `pots` counts, for each subject, the pots that taught of just it; `studio_pots` all that taught anything.
    `ln_movement` shifts what the studio's handling evens out (natural logarithm), from `level_pots` judged lots.
    """

    subjects: tuple[Subject, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    pots: tuple[int, ...]
    studio_pots: int = 0
    ln_movement: float = 0.0
    level_pots: int = 0
