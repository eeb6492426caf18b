from dyewright.core.model import Dye, DyeClass
from dyewright.services.company import care_notes, kept_apart

SHELF = [
    Dye("Bay", DyeClass.ACID_MILLING),
    Dye("Straw", DyeClass.METAL_COMPLEX),
    Dye("Coral", DyeClass.ACID_LEVELLING),
    Dye("Plum", DyeClass.DICHLOROTRIAZINE),
    Dye("Jar", DyeClass.ACID_UNKNOWN),
]


def test_dyes_that_want_another_bath_are_kept_apart():
    apart = kept_apart(SHELF)
    assert set(apart) == {frozenset({"Plum", "Coral"})}
    assert apart[frozenset({"Plum", "Coral"})].startswith(
        "Coral and Plum do not go into one bath: a levelling dye wants"
    )


def test_what_goes_together_with_care_is_said_of_the_dyes_that_are_used():
    assert care_notes(SHELF, {"Bay", "Straw"}) == ()
    (note,) = care_notes(SHELF, {"Bay", "Coral"})
    assert note.startswith("Bay and Coral go together with care: levelling dyes want pH 3 to 4")
    assert note.endswith("(common practice, no source)")


def test_two_dyes_of_one_class_always_go_together():
    assert kept_apart([Dye("One"), Dye("Two")]) == {}
    assert care_notes([Dye("One"), Dye("Two")], {"One", "Two"}) == ()
