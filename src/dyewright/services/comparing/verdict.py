"""Two ways in one sentence: what the right one gains and what it costs, seen from the left one."""

from collections.abc import Mapping, Sequence

from dyewright.core.model import Card
from dyewright.services.comparing.rows import Better, ComparedRow
from dyewright.services.order_of_work.bench import listed
from dyewright.units import show_duration, show_volume

__all__ = ["names_of_ways", "verdict_of"]

MOST_PHRASES = 2  # on either side of the "but"
NO_DIFFERENCE = "No difference between the two that can be told beforehand."


def names_of_ways(left: Card, right: Card) -> tuple[str, str]:
    """Return what the two ways are called: by their dyes' kind, else by their dyes, else first and second."""
    kinds = _kind(left), _kind(right)
    if kinds[0] != kinds[1]:
        return f"the {kinds[0]} way", f"the {kinds[1]} way"
    dyes = _dyes(left), _dyes(right)
    if dyes[0] != dyes[1] and len(left.dyes) == len(right.dyes) == 1:
        return f"the way with {dyes[0]}", f"the way with {dyes[1]}"
    return "the first way", "the second way"


def _kind(card: Card) -> str:
    """Return the kind of most of a card's dye: "reactive", "acid", "direct", "food colour"."""
    deepest = max(card.dyes, key=lambda dye: dye.depth_owf, default=None)
    if deepest is None:
        return "undyed"
    words = deepest.dye_class.value
    if deepest.dye_class.is_reactive:
        return "reactive"
    return "acid" if words.startswith(("acid", "metal complex")) else words


def _dyes(card: Card) -> str:
    return listed([dye.name for dye in card.dyes])


def verdict_of(rows: Sequence[ComparedRow], names: tuple[str, str]) -> str:
    """Return the sentence at the top: gains, then costs, then what stays the same."""
    by_key = {row.key: row for row in rows}
    gains = [words for words in _phrases(by_key, Better.RIGHT) if words][:MOST_PHRASES]
    costs = [words for words in _phrases(by_key, Better.LEFT) if words][:MOST_PHRASES]
    if not gains and not costs:
        return NO_DIFFERENCE
    told = " but ".join(" and ".join(phrases) for phrases in (gains, costs) if phrases)
    same = _same_words(by_key)
    return f"{names[1][0].upper()}{names[1][1:]} {told}{f'; {same}' if same else ''}."


def _phrases(by_key: Mapping[str, ComparedRow], better: Better) -> list[str]:
    """Return what the right way does better (or, where better is the left one, worse), the weightiest first."""
    is_gain = better is Better.RIGHT
    return [
        _clear_words(by_key, better),
        _rinse_words(by_key, better),
        _if_so(by_key, "felting_index", better, "risks less felting" if is_gain else "risks more felting"),
        _if_so(by_key, "uneven_frac", better, "comes out more even" if is_gain else "comes out less even"),
        _time_words(by_key, better),
        _if_so(by_key, "final_exhaustion", better, "takes up more dye" if is_gain else "leaves more dye in the bath"),
        _if_so(by_key, "dye_cost", better, "needs cheaper dye" if is_gain else "needs dearer dye"),
        _if_so(by_key, "energy_kwh", better, "draws less power" if is_gain else "draws more power"),
    ]


def _if_so(by_key: Mapping[str, ComparedRow], key: str, better: Better, words: str) -> str:
    row = by_key.get(key)
    return words if row is not None and row.better is better else ""


def _clear_words(by_key: Mapping[str, ComparedRow], better: Better) -> str:
    """Return whether the bath clears sooner or later; where that cannot be told, whether it is mostly clear by then."""
    when = "sooner" if better is Better.RIGHT else "later"
    told = _if_so(by_key, "clear_at_min", better, f"clears {when}")
    is_open = "clear_at_min" not in by_key or by_key["clear_at_min"].better is Better.CANNOT_TELL
    return told or (_if_so(by_key, "mostly_clear_at_min", better, f"is mostly clear {when}") if is_open else "")


def _rinse_words(by_key: Mapping[str, ComparedRow], better: Better) -> str:
    """Return the rinses and litres that the right way wants more or fewer of; one of them where only one is told."""
    more = "fewer" if better is Better.RIGHT else "more"
    words = []
    count = _apart(by_key, "rinses", better)
    if count is not None:
        words.append(f"{count:.0f} {more} {'rinse' if round(count) == 1 else 'rinses'}")
    litres = _apart(by_key, "water_l", better)
    if litres is not None:
        words.append(f"{show_volume(litres)} {'less' if better is Better.RIGHT else 'more'} water")
    return f"wants {' with '.join(words)}" if words else ""


def _apart(by_key: Mapping[str, ComparedRow], key: str, better: Better) -> float | None:
    """Return by how much two figures differ, where the one that is asked for is the better."""
    row = by_key.get(key)
    if row is None or row.better is not better or row.left.value is None or row.right.value is None:
        return None
    return abs(row.right.value - row.left.value)


def _time_words(by_key: Mapping[str, ComparedRow], better: Better) -> str:
    minutes = _apart(by_key, "pot_min", better)
    if minutes is None:
        return ""
    return f"takes {show_duration(minutes)} {'less' if better is Better.RIGHT else 'more'}"


def _same_words(by_key: Mapping[str, ComparedRow]) -> str:
    alike = [("felting_index", "felting"), ("clear_at_min", "time to clear")]
    found = [words for key, words in alike if key in by_key and by_key[key].better is Better.SAME]
    return f"{listed(found)} about the same" if found else ""
