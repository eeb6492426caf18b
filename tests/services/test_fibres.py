"""Fibres as they are typed."""

import pytest

from dyewright.core.model import Fibre
from dyewright.errors import InputError
from dyewright.services.fibres import fibres_from_text


@pytest.mark.parametrize(
    ("text", "shares"),
    [
        ("wool", {Fibre.WOOL: 1.0}),
        ("wool 80, silk 20", {Fibre.WOOL: 0.8, Fibre.SILK: 0.2}),
        ("80 % wool 20 % silk", {Fibre.WOOL: 0.8, Fibre.SILK: 0.2}),
        (" 80 wool/20 silk", {Fibre.WOOL: 0.8, Fibre.SILK: 0.2}),
        ("Wool 72,5; nylon 27,5", {Fibre.WOOL: 0.725, Fibre.NYLON: 0.275}),
    ],
)
def test_fibres_are_read_as_people_write_them(text, shares):
    assert fibres_from_text(text) == pytest.approx(shares)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("wool 80, silk 30", "110 %"),
        ("wool 80", "80 %"),
        ("unobtanium", "unobtanium"),
        ("", "no fibre"),
        ("wool, silk", "wool"),
        ("wool 8.0.0, silk 20", "cannot be read"),
        ("wool -80", "cannot be read"),
    ],
)
def test_fibres_that_make_no_whole_are_refused_by_name(text, named):
    with pytest.raises(InputError, match=named) as caught:
        fibres_from_text(text, field="fibres")
    assert caught.value.field == "fibres"
