"""What a card leaves unsaid, filled in from practice and the studio's settings, each default named."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dyewright.core import bath
from dyewright.core.model import (
    AssistantDose,
    Card,
    ClassGroup,
    CoolTo,
    DyeClass,
    Enter,
    Fibre,
    FibreGroup,
    Hold,
    Pot,
    Practice,
    Settings,
    Stage,
    Strength,
    Substance,
    To,
    UsualDose,
    When,
    WhenKind,
    Yarn,
)
from dyewright.data.practice import load_fibre_waters, load_heat_sources, load_practices
from dyewright.errors import InputError
from dyewright.units import show_duration, show_mass, show_percent, show_temperature, show_volume

__all__ = ["class_group", "complete", "fibre_group", "practice_of", "programme_words"]

TAP_C = 15.0  # estimate: cold tap water over the year
TURNS_PER_MIN = 0.2  # one turn every five minutes; common practice, no source
SCALE_RESOLUTION_G = 0.1  # the usual kitchen and letter scale
USUAL_POTS_L = (5.0, 8.0, 12.0, 16.0, 20.0, 25.0, 36.0, 50.0, 75.0, 100.0)  # stockpots as sold; no source
SHORTEST_LIQUOR_L_KG = 15.0  # shorter than this a default must not be; the hank machine's low end
HANDLING_C = 40.0  # a bath this warm can be ladled; common practice, no source
POT_TARGET_FRAC = 0.8  # how full a default liquor fills a pot

_CLASS_GROUPS = {
    DyeClass.ACID_LEVELLING: ClassGroup.LEVELLING,
    DyeClass.ACID_MILLING: ClassGroup.MILLING,
    DyeClass.METAL_COMPLEX: ClassGroup.METAL_COMPLEX,
    DyeClass.ACID_UNKNOWN: ClassGroup.UNKNOWN,
    DyeClass.DICHLOROTRIAZINE: ClassGroup.REACTIVE_COLD,
    DyeClass.VINYL_SULPHONE: ClassGroup.REACTIVE_WARM,
    DyeClass.MONOCHLOROTRIAZINE: ClassGroup.REACTIVE_HOT,
    DyeClass.BROMOACRYLAMIDE: ClassGroup.REACTIVE_HOT,
    DyeClass.DIRECT: ClassGroup.DIRECT,
    DyeClass.FOOD: ClassGroup.FOOD,
}
_CELLULOSE = {Fibre.COTTON, Fibre.LINEN, Fibre.VISCOSE}
_HAIR = {Fibre.WOOL, Fibre.ALPACA, Fibre.MOHAIR}


def class_group(dye_class: DyeClass) -> ClassGroup:
    """Return the group of classes that are dyed alike."""
    return _CLASS_GROUPS[dye_class]


def fibre_group(yarn: Yarn) -> FibreGroup:
    """Return how a yarn is dyed: by its cellulose, its superwash wool, its silk, its nylon, else as wool.

    A blend is dyed as its most delicate part asks: silk from a quarter on holds the top temperature down, superwash
    wool the entering temperature. Common practice, no source.
    """
    share = yarn.fibre_frac
    if sum(share.get(fibre, 0.0) for fibre in _CELLULOSE) > 0.5:
        return FibreGroup.CELLULOSE
    if yarn.is_superwash and any(share.get(fibre, 0.0) > 0 for fibre in _HAIR):
        return FibreGroup.SUPERWASH
    if share.get(Fibre.SILK, 0.0) >= 0.25:
        return FibreGroup.SILK
    if share.get(Fibre.NYLON, 0.0) > 0.5:
        return FibreGroup.NYLON
    return FibreGroup.WOOL


def practice_of(card: Card) -> Practice:
    """Return the usual way to dye the card's yarn with the class that most of its dye belongs to."""
    by_class: dict[ClassGroup, float] = {}
    for dye in card.dyes:
        group = class_group(dye.dye_class)
        by_class[group] = by_class.get(group, 0.0) + dye.depth_owf
    main = max(by_class, key=lambda group: by_class[group]) if by_class else ClassGroup.UNKNOWN
    return load_practices()[fibre_group(card.yarn), main]


SODA_ASHES = {Substance.SODA_ASH, Substance.SODA_ASH_MONOHYDRATE, Substance.SODA_ASH_DECAHYDRATE}


@dataclass
class _Filling:
    """The card as far as it is filled, with the notes that name what was filled in."""

    card: Card
    settings: Settings | None
    notes: list[str]

    def say(self, note: str) -> None:
        self.notes.append(note)


def complete(card: Card, settings: Settings | None = None) -> tuple[Card, list[str]]:
    """Return the card with nothing left unsaid that has a default, and a sentence for each default used.

    Unknown alkalinity stays unknown: it makes answers ranges.

    Raises:
        InputError: no dye, or an assistant without an amount that has no usual dose here.
    """
    if not card.dyes:
        raise InputError("a plan needs at least one dye: name it and give its depth, for example 1 %", field="dye")
    filling = _Filling(card, settings, [])
    for fill in (  # in this order: the liquor needs the pots, the programme the fibre and the dyes
        _fill_title,
        _fill_wish,
        _fill_fibre,
        _fill_water,
        _fill_scale,
        _fill_pots,
        _fill_liquor,
        _fill_assistants,
        _fill_stages,
    ):
        fill(filling)
    _say_practice(filling)
    return filling.card, filling.notes


def _fill_title(filling: _Filling) -> None:
    """Name a card without a title after its dyes."""
    card = filling.card
    if not card.title:
        names = ", ".join(f"{dye.name} {show_percent(dye.depth_owf)}" for dye in card.dyes)
        filling.card = replace(card, title=names)


def _fill_wish(filling: _Filling) -> None:
    """Take level or tonal from the studio's settings where the card does not say; level without any."""
    if filling.card.is_tonal_wanted is not None:
        return
    is_wanted = filling.settings is not None and filling.settings.is_tonal_wanted
    filling.card = replace(filling.card, is_tonal_wanted=is_wanted)
    if is_wanted:
        filling.say("Tonal skeins are wanted, as in the studio's settings.")


def _fill_fibre(filling: _Filling) -> None:
    card = filling.card
    if not card.yarn.fibre_frac:
        filling.card = replace(card, yarn=replace(card.yarn, fibre_frac={Fibre.WOOL: 1.0}))
        filling.say("Fibre not said: taken as untreated wool.")


def _fill_water(filling: _Filling) -> None:
    water, own = filling.card.water, filling.settings.water if filling.settings else None
    if own is not None and water.alkalinity_mg_l is None and own.alkalinity_mg_l is not None:
        water = replace(water, alkalinity_mg_l=own.alkalinity_mg_l, ph=water.ph if water.ph is not None else own.ph)
        filling.say(f"Water as in the studio's settings: alkalinity {own.alkalinity_mg_l:g} mg/L.")
    if own is not None and water.temperature_c is None:
        water = replace(water, temperature_c=own.temperature_c)
    if water.temperature_c is None:
        water = replace(water, temperature_c=TAP_C)
        filling.say(f"Tap water's temperature not said: taken as {show_temperature(TAP_C)}.")
    filling.card = replace(filling.card, water=water)


def _fill_scale(filling: _Filling) -> None:
    if filling.card.scale_resolution_g is not None:
        return
    resolution = filling.settings.scale_resolution_g if filling.settings else SCALE_RESOLUTION_G
    origin = "as in the studio's settings" if filling.settings else "not said: taken as a scale"
    filling.card = replace(filling.card, scale_resolution_g=resolution)
    filling.say(f"Scale {origin} that reads to {show_mass(resolution)}.")


def _fill_pots(filling: _Filling) -> None:
    card = filling.card
    if not card.pots:
        needed = _asked_liquor_l(card) + bath.fibre_volume_l(card.yarn, load_fibre_waters())
        volume = next((v for v in USUAL_POTS_L if v * POT_TARGET_FRAC >= needed), needed / POT_TARGET_FRAC)
        card = replace(card, pots=(Pot(volume_l=volume),))
        filling.say(f"Pot not said: taken as one of {show_volume(volume)} on an electric hob, with its lid.")
    pots = []
    for i, pot in enumerate(card.pots, start=1):
        pots.append(_filled_pot(filling, pot, pot.name or (f"Pot {i}" if len(card.pots) > 1 else "The pot")))
    if any(pot.turns_per_min is None for pot in card.pots):
        filling.say("How often the yarn is turned is not said: taken as once every five minutes.")
    filling.card = replace(card, pots=tuple(pots))


def _filled_pot(filling: _Filling, pot: Pot, name: str) -> Pot:
    source = load_heat_sources()[pot.heating]
    usual_w = source.default_power_w if pot.useful_w is None else round(pot.useful_w / source.efficiency_frac)
    if pot.power_w is None:
        why = pot.heating.value if pot.useful_w is None else f"{pot.heating.value}, from its heat-up"
        filling.say(f"{name}: power not said, taken as {usual_w:g} W ({why}).")
    return replace(
        pot,
        name=name,
        power_w=usual_w if pot.power_w is None else pot.power_w,
        turns_per_min=TURNS_PER_MIN if pot.turns_per_min is None else pot.turns_per_min,
    )


def _asked_liquor_l(card: Card) -> float:
    if card.water_l is not None:
        return card.water_l
    ratio = practice_of(card).liquor_l_kg if card.liquor_l_kg is None else card.liquor_l_kg
    return bath.liquor_volume_l(card.yarn.dry_g, ratio)


def _fill_liquor(filling: _Filling) -> None:
    """Take the usual liquor where none is said, or what the pots hold if that is less but still enough."""
    card = filling.card
    if card.liquor_l_kg is not None or card.water_l is not None:
        return
    usual = practice_of(card).liquor_l_kg
    displaced = bath.fibre_volume_l(card.yarn, load_fibre_waters())
    room = POT_TARGET_FRAC * sum(pot.volume_l for pot in card.pots) - displaced
    fitting = round(room / card.yarn.dry_g * 1000, 1)
    ratio = min(usual, max(fitting, SHORTEST_LIQUOR_L_KG))
    filling.card = replace(card, liquor_l_kg=ratio)
    why = "usual for this fibre and class" if ratio == usual else f"what fits the pot ({usual:g}:1 is usual)"
    filling.say(f"Liquor not said: taken as {ratio:g}:1, {why}.")


def _fill_assistants(filling: _Filling) -> None:
    card, practice = filling.card, practice_of(filling.card)
    if not card.assistants:
        doses = tuple(_usual(dose) for dose in practice.doses)
        filling.card = replace(card, assistants=doses)
        if doses:
            words = ", ".join(_dose_words(dose) for dose in doses)
            filling.say(f"Assistants not said: taken as {words}, usual for this fibre and class.")
        return
    said = (_with_usual_amount(filling, dose) for dose in card.assistants)
    filling.card = replace(card, assistants=tuple(_with_usual_moment(filling, dose) for dose in said))


def _usual(dose: UsualDose) -> AssistantDose:
    strength = Strength(w_v_g_l=50.0) if dose.label == "white vinegar 5 %" else Strength()
    when = When(WhenKind.START) if dose.at_min is None else When(WhenKind.MINUTE, dose.at_min)
    return AssistantDose(
        label=dose.label,
        substance=dose.substance,
        strength=strength,
        owf=dose.owf,
        bath_g_l=dose.bath_g_l,
        target_ph=dose.target_ph,
        when=when,
    )


def _dose_words(dose: AssistantDose) -> str:
    if dose.target_ph is not None:
        return f"{dose.label} to pH {dose.target_ph:g}"
    if dose.owf is not None:
        return f"{dose.label} {show_percent(dose.owf)} owf"
    return f"{dose.label} {dose.bath_g_l:g} g/L"


def _with_usual_amount(filling: _Filling, dose: AssistantDose) -> AssistantDose:
    """Give an assistant that was named without an amount the pH or the dose that is usual here."""
    amounts = (dose.mass_g, dose.volume_l, dose.owf, dose.bath_g_l, dose.bath_l_l, dose.target_ph)
    if any(amount is not None for amount in amounts):
        return dose
    usual = practice_of(filling.card).doses
    same = next((u for u in usual if u.substance is dose.substance), None)
    acid = next((u for u in usual if u.target_ph is not None), None)
    found = same or (acid if dose.substance.value.endswith("acid") else None)
    if found is None:
        raise InputError(
            f"{dose.label}: say how much, for example '2 % owf', '5 g/L' or '75 mL'; there is no usual dose of it here",
            field="assistant.amount",
            value=dose.label,
        )
    filled = replace(dose, target_ph=found.target_ph, owf=found.owf, bath_g_l=found.bath_g_l)
    filling.say(f"Amount of {dose.label} not said: taken as {_dose_words(filled)}, usual for this fibre and class.")
    return filled


def _with_usual_moment(filling: _Filling, dose: AssistantDose) -> AssistantDose:
    """Give an assistant that was named without a moment the later one that is usual here, as of soda ash on cotton."""
    usual = (u for u in practice_of(filling.card).doses if u.substance in {dose.substance, *_same_alkali(dose)})
    at_min = next((u.at_min for u in usual if u.at_min is not None), None)
    if dose.is_when_said or at_min is None:
        return dose
    filling.say(
        f"When {dose.label} goes in is not said: taken as {show_duration(at_min)} after heat on, once the salt has "
        "driven the dye on; earlier it spends dye on water."
    )
    return replace(dose, when=When(WhenKind.MINUTE, at_min), is_when_said=True)


def _same_alkali(dose: AssistantDose) -> set[Substance]:
    """Return the forms of soda ash where the dose is one of them."""
    return SODA_ASHES if dose.substance in SODA_ASHES else set()


def _fill_stages(filling: _Filling) -> None:
    card, practice = filling.card, practice_of(filling.card)
    if not card.stages:
        filling.card = replace(card, stages=practice.stages)
        filling.say(f"Programme not said: {programme_words(practice.stages)}, usual for {practice.fibre_group.value}.")
    elif not isinstance(card.stages[0], Enter):
        enter = practice.stages[0]
        filling.card = replace(card, stages=(enter, *card.stages))
        if isinstance(enter, Enter):
            filling.say(f"Entering temperature not said: taken as {show_temperature(enter.at_c)}.")
    _fill_end(filling)


def _fill_end(filling: _Filling) -> None:
    """Let a programme that ends hot cool under the lid, and give the rinse the dye bath's volume."""
    card = filling.card
    temperatures = [_temperature_c(stage) for stage in card.stages]
    last_c = next(at_c for at_c in reversed(temperatures) if at_c is not None)
    if last_c > HANDLING_C + 5:
        card = replace(card, stages=(*card.stages, CoolTo(HANDLING_C)))
        filling.say(f"The programme ends hot: cooling under the lid to {show_temperature(HANDLING_C)} is added.")
    if card.rinse.water_l is None:
        card = replace(card, rinse=replace(card.rinse, water_l=_asked_liquor_l(card)))
    filling.card = card


def _temperature_c(stage: Stage) -> float | None:
    match stage:
        case Enter():
            return stage.at_c
        case To() | CoolTo():
            return stage.to_c
        case Hold():
            return None


def programme_words(stages: Sequence[Stage]) -> str:
    """Return a programme in words: "enter at 40 °C, to 95 °C at 1 °C/min, hold 45 min"."""
    words = []
    for stage in stages:
        match stage:
            case Enter():
                words.append(f"enter at {show_temperature(stage.at_c)}")
            case To():
                rate = "heat fully on" if stage.rate_c_per_min is None else f"at {stage.rate_c_per_min:g} °C/min"
                words.append(f"to {show_temperature(stage.to_c)} {rate}")
            case Hold():
                words.append(f"hold {stage.hold_min:g} min")
            case CoolTo():
                words.append(f"cool to {show_temperature(stage.to_c)}")
    return ", ".join(words)


def _say_practice(filling: _Filling) -> None:
    """Say what is special about this fibre and class, and that several classes share one bath."""
    practice = practice_of(filling.card)
    if practice.note:
        filling.say(practice.note)
    groups = {class_group(dye.dye_class) for dye in filling.card.dyes}
    if len(groups) > 1:
        names = " and ".join(sorted({dye.dye_class.value for dye in filling.card.dyes}))
        filling.say(f"Dyes of several classes ({names}) share this bath: the plan follows the class of most dye.")
