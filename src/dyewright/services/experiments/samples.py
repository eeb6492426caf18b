"""The samples of an experiment: each one's card, what its jar gets, and the water bath that they stand in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from dyewright.core import bath
from dyewright.core import evening as measures
from dyewright.core.model import (
    Base,
    Card,
    CoolTo,
    Dye,
    Enter,
    Evening,
    Experiment,
    Factor,
    HeatCurve,
    Heating,
    Hold,
    Jar,
    Pot,
    Sample,
    Settings,
    Stage,
    StageKind,
    To,
)
from dyewright.data.practice import load_fibre_waters
from dyewright.errors import InputError
from dyewright.services.evening.amounts import JarAmounts, jar_amounts
from dyewright.services.evening.water_bath import BATH_POT, WaterBath
from dyewright.services.experiments.factors import FACTORS, blank_card, varied_card
from dyewright.units import show_volume

__all__ = ["Bench", "bench_of", "sample_words", "stock_g_l"]

USUAL_JARS_L = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0)  # preserving jars as sold: common practice, no source
USUAL_STOCK_G_L = 10.0  # 1 %: common practice, no source
STIRS_PER_MIN = 0.1  # a jar is stirred every ten minutes: common practice, no source
FOLLOWS_FRAC = 0.95  # a bath that rises this near to the rate asked follows it (estimate)


@dataclass(frozen=True)
class Bench:
    """An experiment worked out: `cards` and `jars` in the order of its samples, and the bath that they stand in."""

    experiment: Experiment
    card: Card
    cards: tuple[Card, ...]
    jars: tuple[JarAmounts, ...]
    jar_l: float
    pot: Pot
    settings: Settings | None

    @property
    def is_one_bath(self) -> bool:
        """Whether all samples are heated together."""
        return self.experiment.factor is not Factor.RAMP

    @property
    def water_bath(self) -> WaterBath:
        """The water bath with all its jars, or with the fullest one where they go in one after another."""
        fullest = max(self.jars, key=lambda jar: jar.filled_l)
        return WaterBath(self.pot, self.jar_l, self.jars if self.is_one_bath else (fullest,))

    @cached_property
    def curves(self) -> tuple[HeatCurve, ...]:
        """How the bath heats for each sample: once for all where they stand in it together."""
        waterbath = self.water_bath
        if self.is_one_bath:
            return (waterbath.heated(self.cards[0].stages),) * len(self.cards)
        return tuple(waterbath.heated(card.stages) for card in self.cards)

    def curve(self, place: int) -> HeatCurve:
        """Return how the bath heats for the sample at a place."""
        return self.curves[place]

    def pot_card(self, place: int) -> Card:
        """Return a sample's card as it is dyed: its jar as the pot, heated as the water bath really heats."""
        sample, card = self.experiment.samples[place], self.cards[place]
        jar = Pot(
            volume_l=self.jar_l,
            diameter_m=measures.jar_diameter_m(self.jar_l),
            heating=Heating.THERMOSTAT,
            turns_per_min=STIRS_PER_MIN,
            name=f"Jar {sample.number}",
        )
        return replace(
            card,
            title=f"{self.experiment.name}: {sample.number}, {sample_words(self.experiment, sample)}",
            pots=(jar,),
            stages=_as_heated(self.curve(place)),
        )


def sample_words(experiment: Experiment, sample: Sample) -> str:
    """Return what a sample is: "pH 5", "0.5 %", "blank, no dye"."""
    return "blank, no dye" if sample.value is None else FACTORS[experiment.factor].show(sample.value)


def bench_of(experiment: Experiment, card: Card, base: Base | None, settings: Settings | None) -> Bench:
    """Return an experiment worked out from the card that its samples share.

    Raises:
        InputError: the card cannot be varied so, a dose cannot be given, or the bath cannot be heated as fast.
    """
    middle = _middle(experiment)
    cards = tuple(
        blank_card(varied_card(card, experiment.factor, middle))
        if sample.value is None
        else varied_card(card, experiment.factor, sample.value)
        for sample in experiment.samples
    )
    jar_l = _jar_l(cards)
    jars = tuple(
        _amounts(experiment, sample, one, base, settings, jar_l)
        for sample, one in zip(experiment.samples, cards, strict=True)
    )
    made = Bench(experiment, card, cards, jars, jar_l, card.pots[0] if card.pots else BATH_POT, settings)
    _check_rates(made)
    return made


def _middle(experiment: Experiment) -> float:
    """Return the value in the middle of the series, which the blank's bath follows."""
    values = sorted(sample.value for sample in experiment.samples if sample.value is not None)
    return values[len(values) // 2]


def _jar_l(cards: Sequence[Card]) -> float:
    """Return the smallest usual jar that the fullest sample leaves room in."""
    waters = load_fibre_waters()
    filled_l = max(
        bath.liquor_volume_l(card.yarn.dry_g, card.liquor_l_kg or 0.0) + bath.fibre_volume_l(card.yarn, waters)
        for card in cards
    )
    fitting = next((jar for jar in USUAL_JARS_L if filled_l <= bath.FULL_FRAC * jar), None)
    if fitting is None:
        raise InputError(
            f"a sample stands in {show_volume(filled_l)}, more than a jar of {show_volume(USUAL_JARS_L[-1])} takes: "
            "take a smaller skein, or less water",
            field="sample",
            value=filled_l,
            limit=bath.FULL_FRAC * USUAL_JARS_L[-1],
        )
    return fitting


def _amounts(
    experiment: Experiment, sample: Sample, card: Card, base: Base | None, settings: Settings | None, jar_l: float
) -> JarAmounts:
    """Return what a sample's jar gets, measured as a jar of a swatch evening."""
    depths: dict[str, float] = {}
    for dye in card.dyes:
        if dye.depth_owf > 0:
            depths[dye.name] = depths.get(dye.name, 0.0) + dye.depth_owf
    jar = Jar(sample.number, depths, Decimal(str(experiment.sample_g)))
    planned = Evening(
        name=experiment.name,
        held_on=experiment.created_on,
        base_id=experiment.base_id or 0,
        liquor_l_kg=card.liquor_l_kg or 0.0,
        stock_g_l=stock_g_l(card),
        jars=(jar,),
    )
    own = Settings(experiment.name) if settings is None else settings
    scale = card.scale_resolution_g or own.scale_resolution_g
    yarn = Base(base.name if base else "", card.yarn.fibre_frac, is_superwash=card.yarn.is_superwash)
    return jar_amounts(
        planned,
        jar,
        yarn,
        [Dye(dye.name, dye.dye_class) for dye in card.dyes],
        replace(own, water=card.water, scale_resolution_g=scale),
        jar_l=jar_l,
        assistants=card.assistants,
    )


def stock_g_l(card: Card) -> float:
    """Return the strength of the stock that samples are dosed from: the card's own, 1 % where it names none."""
    return next((dye.stock_g_l for dye in card.dyes if dye.stock_g_l), USUAL_STOCK_G_L)


def _as_heated(curve: HeatCurve) -> tuple[Stage, ...]:
    """Return a programme as a bath really follows it."""
    stages: list[Stage] = [Enter(curve.bath_c[0])]
    for stage in curve.stages:
        lasts_min = stage.end_min - stage.start_min
        if lasts_min < 0.05:
            continue
        match stage.kind:
            case StageKind.TO:
                stages.append(To(stage.end_c, (stage.end_c - stage.start_c) / lasts_min))
            case StageKind.HOLD:
                stages.append(Hold(lasts_min))
            case StageKind.COOL:
                stages.append(CoolTo(stage.end_c))
    return tuple(stages)


def _check_rates(bench: Bench) -> None:
    """Refuse a heating rate that the water bath cannot follow: its step would be dyed as a slower one."""
    if bench.is_one_bath:
        return
    for place, sample in enumerate(bench.experiment.samples):
        rises = [stage for stage in bench.curve(place).stages if stage.kind is StageKind.TO]
        asked = sample.value or 0.0
        given = min((one.end_c - one.start_c) / (one.end_min - one.start_min) for one in rises)
        if given < FOLLOWS_FRAC * asked:
            raise InputError(
                f"{bench.water_bath.pot_name} raises a jar in its water by {given:.2g} °C a minute at most near the "
                f"top, {asked:g} was asked for: take a smaller or stronger pot for the water bath, or slower steps",
                field="to",
                value=asked,
                limit=given,
            )
