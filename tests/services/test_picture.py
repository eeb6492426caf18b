"""A palette out of a picture: its picks, what the shelf makes of them, yarn for each, and the palette that is kept."""

from contextlib import closing
from datetime import UTC, date, datetime
from importlib.resources import files
from uuid import UUID, uuid4

import numpy as np
import pytest
from ready import place_demo
from scenes import saved

from dyewright.core.colour import delta_e00
from dyewright.core.matching import Target, search
from dyewright.core.model import Palette, Settings, TargetKind
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError, NotFoundError
from dyewright.records import colourways, shelf
from dyewright.services import studios
from dyewright.services.photos import keep_photo
from dyewright.services.picture.frame import look_at_picture
from dyewright.services.picture.page import asked_of, picture_view
from dyewright.services.picture.palettes import chosen_palette, keep_palette, palette_page, palettes_view
from dyewright.services.picture.reach import yarn_shares
from dyewright.services.shelf_model import studio_shelf

TODAY = date(2026, 11, 26)
TEAL, SAND, NEON = (70, 120, 125), (200, 175, 140), (0, 255, 60)


def stripes(*codes):
    picture = np.empty((120, 90 * len(codes), 3), np.uint8)
    for place, code in enumerate(codes):
        picture[:, 90 * place : 90 * (place + 1)] = code
    return saved(picture, "PNG")


def kept(session, content):
    seen = look_at_picture(content)
    return keep_photo(session, seen, photo_id=uuid4(), run_id=None, taken_at=datetime.now(UTC)).id


@pytest.fixture
def session(tmp_path):
    """A demo studio, whose changes are thrown away."""
    with closing(studios.open_studio(place_demo(tmp_path))) as records, records.begin() as session:
        yield session
        session.rollback()


@pytest.fixture
def shore(session):
    return kept(session, files("dyewright.services").joinpath("demo_data", "shore.jpg").read_bytes())


def view_of(session, photo_id, **asked):
    view, wrong = picture_view(session, photo_id, {key.replace("_", "."): text for key, text in asked.items()})
    assert wrong is None
    return view


def test_the_shore_gives_sand_sea_sky_rock_and_the_boat(session, shore):
    words = [pick.words for pick in view_of(session, shore).picks]
    # What was drawn, by area: sand, sea, sky, rock; and the boat, which is one part in a hundred but draws the eye.
    assert len(words) == 5
    for drawn in ("amber", "blue", "pale grey", "dark grey", "red"):
        assert any(drawn in word for word in words), drawn


def test_a_picture_without_a_chart_is_an_intention(session, shore):
    view = view_of(session, shore)
    assert view.kind is TargetKind.PICTURE
    assert all(pick.own_band is None for pick in view.picks)


@pytest.mark.parametrize("count", [3, 8])
def test_as_many_colours_as_are_asked_for_and_the_shares_add_up(session, shore, count):
    picks = view_of(session, shore, k=str(count)).picks
    assert len(picks) == count
    assert sum(pick.share_frac for pick in picks) == pytest.approx(1)


def test_a_moved_pick_is_read_where_it_lies_and_the_others_stay(session):
    photo = kept(session, stripes(TEAL, SAND, NEON))
    three = {"k": "3", "pick_1": "10, 50", "pick_2": "50, 50", "pick_3": "90, 50"}
    before = view_of(session, photo, **three).picks
    after = view_of(session, photo, **{**three, "pick_2": "91, 40"}).picks
    assert [pick.place for pick in after] == ["10.0, 50.0", "91.0, 40.0", "90.0, 50.0"]
    assert after[1].lab == pytest.approx(before[2].lab)
    assert after[0].lab == before[0].lab


@pytest.mark.parametrize("count", [3, 5, 8])
def test_the_fields_hold_the_places_exactly_so_that_what_was_shown_is_what_is_kept(session, shore, count):
    shown = view_of(session, shore, k=str(count))
    sent = {f"pick.{pick.number}": pick.place for pick in shown.picks}
    again = view_of(session, shore, k=str(count), **sent)
    assert [pick.reached.recipe for pick in again.picks] == [pick.reached.recipe for pick in shown.picks]


def test_more_colours_keep_the_picks_and_add_what_is_unlike_them(session):
    photo = kept(session, stripes(TEAL, SAND, NEON))
    picks = view_of(session, photo, k="3", pick_1="10, 50", pick_2="50, 50").picks
    assert [pick.place for pick in picks[:2]] == ["10.0, 50.0", "50.0, 50.0"]
    assert 66.7 < picks[2].x_percent < 100, "the third stripe is the only colour that is missing"


def test_a_picture_with_fewer_colours_than_asked_for_says_so(session):
    view = view_of(session, kept(session, stripes(TEAL, SAND)), k="5")
    assert len(view.picks) == 2
    assert "no more than two colours" in view.notes[0]
    assert view.verdict == f"Your shelf reaches all of it on {view.base_name}."
    one = view_of(session, kept(session, stripes(TEAL)))
    assert "no more than one colour that" in one.notes[0]


def test_a_picture_that_no_dye_comes_near_is_said_to_be_out_of_reach(session):
    assert view_of(session, kept(session, stripes(NEON))).verdict.startswith("Your shelf reaches none of it")


def test_fewer_colours_leave_out_the_smallest(session, shore):
    five = view_of(session, shore).picks
    typed = {f"pick_{pick.number}": pick.place for pick in five}
    four = view_of(session, shore, k="4", **typed).picks
    smallest = min(five, key=lambda pick: pick.share_frac)
    assert [pick.place for pick in four] == [pick.place for pick in five if pick is not smallest]


def test_the_nearest_is_as_near_as_the_recipe_page_finds_it(session, shore):
    view = view_of(session, shore)
    model = studio_shelf(session, view.base_name).model
    for pick in view.picks:
        best = search(model, Target(pick.lab), load_observer_tables()).de00.min()
        assert pick.reached.de00 <= best + 0.35  # 0.3 is given away for a recipe with fewer dyes


def test_what_no_dye_reaches_is_said_with_how_and_how_far(session):
    photo = kept(session, stripes(TEAL, SAND, NEON))
    view = view_of(session, photo, k="3", pick_1="10, 50", pick_2="50, 50", pick_3="90, 50")
    neon = view.picks[2]
    assert not neon.reached.is_within
    assert neon.off_de00 == pytest.approx(float(delta_e00(neon.lab, neon.reached.lab)))
    assert "duller" in neon.off
    assert view.verdict == f"Your shelf reaches two of the three on {view.base_name}."


def test_the_base_is_chosen_and_the_yarn_shared_out_in_its_skeins(session, shore):
    view = view_of(session, shore, base="Fellside wool", weight="1 kg")
    assert view.base_name == "Fellside wool"
    assert view.dry_g == 1000
    assert all("skein" in pick.yarn for pick in view.picks)


@pytest.mark.parametrize(
    ("shares", "dry_g", "skein_g", "skeins"),
    [
        # By hand: 1000 g are 10 skeins of 100 g; 3.7 + 3.0 + 2.3 + 0.9 + 0.1 in whole ones, one each at least.
        ((0.37, 0.30, 0.23, 0.09, 0.01), 1000, 100, [3, 3, 2, 1, 1]),
        ((0.5, 0.3, 0.2), 1000, 100, [5, 3, 2]),
        ((0.98, 0.01, 0.01), 100, 100, [1, 1, 1]),
        ((0.4, 0.35, 0.25), 350, 50, [3, 2, 2]),  # 2.8 + 2.45 + 1.75: the one left goes to the largest remainder first
    ],
)
def test_yarn_is_shared_out_in_whole_skeins(shares, dry_g, skein_g, skeins):
    parts = yarn_shares(shares, dry_g, skein_g)
    assert [part.skeins for part in parts] == skeins
    assert [part.mass_g for part in parts] == [skein_g * count for count in skeins]


def test_yarn_without_a_put_up_is_shared_out_by_the_gram():
    assert [part.mass_g for part in yarn_shares((0.75, 0.25), 200, None)] == [150, 50]


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("k", "2", "3 to 8"),
        ("k", "many", "3 to 8"),
        ("weight", "0 g", "above 0 g"),
        ("weight", "heavy", "heavy"),
        ("weight", f"{'9' * 40} g", "at most"),
        ("base", "Nowhere wool", "Nowhere wool"),
        ("pick.1", "120, 5", "not two numbers from 0 to 100"),
        ("pick.1", "left", "not two numbers from 0 to 100"),
    ],
)
def test_a_field_that_cannot_be_worked_with_is_named_and_the_page_still_comes(session, shore, field, text, said):
    view, wrong = picture_view(session, shore, {field: text})
    assert wrong.field == field
    assert said in wrong.message
    assert len(view.picks) == 5


def test_a_studio_without_swatches_still_gets_the_palette(records):
    with records.begin() as session:
        shelf.save_settings(session, Settings("Test shed"))
        photo = kept(session, stripes(TEAL, SAND, NEON))
        view = view_of(session, photo, k="3")
        assert len(view.picks) == 3
        assert all(pick.reached is None for pick in view.picks)
        assert "no swatch of a dye" in view.trouble


def test_a_click_on_the_small_picture_becomes_a_place():
    asked = asked_of({"k": "3", "move": "2", "at.x": "150", "at.y": "50", "at.height": "200", "pick.2": "1, 1"})
    assert asked == {"k": "3", "pick.2": "50.0, 25.0"}  # 150 of 300 and 50 of 200 pixels
    assert asked_of({"at.x": "1", "at.y": "x", "at.height": "200", "move": "1"}) == {}
    assert asked_of({"anew": "1", "k": "4", "pick.1": "1, 1"}) == {"k": "4"}


def test_a_kept_palette_holds_its_colours_as_colourways(session, shore):
    typed = {"name": "Shore", "name.1": "sand", "weight": "1 kg"}
    palette, ways = chosen_palette(session, shore, typed, today=TODAY)
    stored = keep_palette(session, palette, ways)

    assert colourways.palette(session, stored.id) == Palette("Shore", shore, TODAY, "", stored.id)
    mine = [way for way in colourways.colourways(session) if way.palette_id == stored.id]
    assert len(mine) == 5
    assert "Shore · sand" in [way.name for way in mine]
    assert sum(way.share_frac for way in mine) == pytest.approx(1)
    for way in mine:
        assert way.target_kind is TargetKind.PICTURE
        assert way.recipe_owf
        assert way.base_id is not None
        assert delta_e00(way.target_lab, way.predicted_lab) < 1

    assert [(slip.name, len(slip.hexes)) for slip in palettes_view(session)["palettes"]] == [
        ("Shore", 5),
        ("Shore at low tide", 6),  # the demo's own
    ]
    page = palette_page(session, stored.id, {"weight": "500 g"})
    assert page["colours"][0].name == "sand", "the largest share first"
    assert all("colourway=" in colour.plan_query for colour in page["colours"])
    assert page["error"] is None
    assert palette_page(session, stored.id, {"weight": "none"})["error"].field == "weight"


def test_the_demo_has_a_palette_of_its_picture(session):
    [palette] = colourways.palettes(session)
    page = palette_page(session, palette.id, {})
    assert {colour.name for colour in page["colours"]} == {"sand", "sea", "high cloud", "rock", "the boat", "weed"}
    # Each was put where the picture has that thing (tools/render_shore.py).
    words = {colour.name: colour.words for colour in page["colours"]}
    assert "red" in words["the boat"]
    assert "blue" in words["sea"] or "teal" in words["sea"]
    assert "olive" in words["weed"]


def test_two_colours_of_the_same_words_get_names_of_their_own(session):
    photo = kept(session, stripes((70, 120, 125), (71, 121, 126), SAND))
    typed = {"name": "Twins", "k": "3", "pick.1": "10, 50", "pick.2": "50, 50", "pick.3": "90, 50"}
    _, ways = chosen_palette(session, photo, typed, today=TODAY)
    assert ways[1].name == f"{ways[0].name} 2"


def test_a_palette_needs_a_name_of_its_own(session, shore):
    with pytest.raises(InputError) as nameless:
        chosen_palette(session, shore, {"name": "  "}, today=TODAY)
    assert nameless.value.field == "name"
    keep_palette(session, *chosen_palette(session, shore, {"name": "Shore"}, today=TODAY))
    with pytest.raises(InputError, match="is there already") as taken:
        keep_palette(session, *chosen_palette(session, shore, {"name": "Shore"}, today=TODAY))
    assert taken.value.field == "name"


def test_a_colour_whose_name_is_taken_is_pointed_at(session, shore):
    palette, ways = chosen_palette(session, shore, {"name": "Shore", "name.2": "sea"}, today=TODAY)
    colourways.save_colourway(session, ways[1])
    with pytest.raises(InputError, match="Shore · sea") as taken:
        keep_palette(session, palette, ways)
    assert taken.value.field == "name.2"


def test_a_palette_whose_colourways_are_gone_is_still_shown(session, shore):
    stored = colourways.save_palette(session, Palette("Empty", shore, TODAY))
    assert palette_page(session, stored.id, {})["colours"] == []
    assert "no colour left" in [slip.words for slip in palettes_view(session)["palettes"]]


def test_what_is_not_there_is_not_found(session):
    nobody = UUID("00000000-0000-4000-8000-000000000000")
    with pytest.raises(NotFoundError):
        picture_view(session, nobody, {})
    with pytest.raises(NotFoundError):
        palette_page(session, 99, {})


VIVID = [(0, 120, 255), (250, 210, 0), (250, 40, 160), (0, 180, 90), (70, 120, 125)]


def test_in_harmony_all_move_alike_and_more_of_the_contrasts_is_kept(session):
    photo = kept(session, stripes(*VIVID))
    places = {f"pick_{place + 1}": f"{10 + 20 * place}, 50" for place in range(5)}
    alone = view_of(session, photo, **places)
    together = view_of(session, photo, fit="harmony", **places)

    assert "contrasts are kept" in alone.harmony
    assert "duller" in together.harmony, "a shelf of dyes is duller than a screen: all lose chroma"
    teal = together.picks[4]
    assert alone.picks[4].reached.is_within
    assert teal.off_de00 > 1, "even what was within reach moves with the others"
    # What is measured is how far the pattern of differences follows the picture's: worked out anew here, for lightness
    # and for a*b* apart, as correlations through the origin.
    assert _pattern(together) > _pattern(alone)


def _pattern(view):
    wanted, got = (np.array(labs) for labs in zip(*[(p.lab, p.reached.lab) for p in view.picks], strict=True))
    first, second = np.triu_indices(len(wanted), 1)
    one, two = wanted[first] - wanted[second], got[first] - got[second]
    parts = [(one[:, :1], two[:, :1]), (one[:, 1:], two[:, 1:])]
    return sum((a**2).sum() * (a * b).sum() / np.sqrt((a**2).sum() * (b**2).sum()) for a, b in parts) / (one**2).sum()


def test_a_palette_within_reach_needs_no_harmony(session, shore):
    view = view_of(session, shore, fit="harmony")
    assert "nothing is moved" in view.harmony
    assert all(pick.off_de00 < 1 for pick in view.picks)


def test_a_palette_kept_in_harmony_remembers_the_pictures_own_colours(session):
    photo = kept(session, stripes(*VIVID))
    _, ways = chosen_palette(session, photo, {"name": "Loud", "fit": "harmony"}, today=TODAY)
    assert all("the picture's own colour is lab" in way.note for way in ways)
