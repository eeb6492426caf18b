"""The colour pages: a target, its recipes, the mix in hand, swatches brought in, colourways kept."""

import re
import time
from html import unescape

import numpy as np
import pytest
from synthetic_shelf import base_swatch, invented_curves, ladder_swatches

from dyewright.files.swatches import write_swatches

RNG = np.random.default_rng(8)
TABLE = write_swatches([base_swatch(), *ladder_swatches(RNG, invented_curves(RNG, 3), 0.3)])
for number, name in enumerate(("Lagoon", "Rowan", "Gorse")):
    TABLE = TABLE.replace(f"dye {number}", name)


def text_of(page):
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page.text)))


@pytest.fixture
def stocked(own):
    page = own.post("/shelf/swatches", files={"file": ("swatches.csv", TABLE.encode(), "text/csv")})
    assert page.status_code == 200
    assert "On record: 16" in page.text
    return own


def test_a_table_brought_in_puts_dyes_and_base_on_the_shelf(stocked):
    shelf = stocked.get("/shelf").text
    for name in ("Lagoon", "Rowan", "Gorse", "ecru"):
        assert name in shelf


def test_a_pasted_table_serves_too_and_can_be_saved_again(own):
    own.post("/shelf/swatches", data={"table": TABLE})
    saved = own.get("/shelf/swatches.csv")
    assert saved.headers["content-type"].startswith("text/csv")
    assert saved.text == TABLE


@pytest.mark.parametrize("as_file", [True, False])
def test_a_wrong_table_is_kept_on_the_page_and_nothing_of_it_on_record(own, as_file):
    wrong = TABLE.replace("Rowan,0.3,", "Rowan,-0.3,")
    sent = {"files": {"file": ("mine.csv", wrong.encode())}} if as_file else {"data": {"table": wrong}}
    page = own.post("/shelf/swatches", **sent)

    assert page.status_code == 422
    assert "column depth_percent: -0.3 % is not a depth; it lies between 0 % and 100 %" in unescape(page.text)
    assert "Rowan,-0.3,ecru" in page.text
    assert "On record: 0" in page.text


def test_a_photo_is_no_swatch_table(own):
    page = own.post("/shelf/swatches", files={"file": ("skein.jpg", b"\xff\xd8\xff\xe0\0\x10JFIF\0", "image/jpeg")})
    assert page.status_code == 422
    assert "skein.jpg is not a text file" in page.text


def test_three_typed_swatches_are_enough_for_a_recipe(own):
    for recipe, colour in (
        ("undyed", "87 0 11"),
        ("Lagoon 0.5 %", "52 -25 -15"),
        ("Rowan 0.5 + Lagoon 0.1", "#8a4a44"),
    ):
        page = own.post("/shelf/swatches/typed", data={"recipe": recipe, "base": "Merino", "colour": colour})
        assert page.status_code == 200
    page = own.get("/colours/new", params={"target": "60 -18 -8"})
    assert page.status_code == 200
    assert "Lagoon" in page.text


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"recipe": "Lagoon", "base": "Merino", "colour": "52 -25 -15"}, "'Lagoon' is not a dye with its depth"),
        ({"recipe": "Lagoon -1 %", "base": "Merino", "colour": "52 -25 -15"}, "is not a dye with its depth"),
        ({"recipe": "Lagoon 1 %", "base": "", "colour": "52 -25 -15"}, "which yarn is it on?"),
        ({"recipe": "Lagoon 1 %", "base": "Merino", "colour": "swatch /etc/hostname"}, "is not understood"),
        ({"recipe": "Lagoon 1 %", "base": "Merino", "colour": "152 0 0"}, "lightness L of the colour is 152"),
        ({"recipe": "Lagoon 1 %", "base": "Merino", "colour": "teal"}, "the colour 'teal' is not understood"),
    ],
)
def test_a_wrong_swatch_keeps_what_was_typed(own, typed, says):
    page = own.post("/shelf/swatches/typed", data=typed)
    assert page.status_code == 422
    assert says in unescape(page.text)
    for text in typed.values():
        assert text in page.text


def test_without_swatches_the_page_says_what_is_needed(own):
    page = own.get("/colours/new", params={"target": "45 -20 -5"})
    assert page.status_code == 422
    assert "no swatch of a dye is on record yet" in page.text
    assert "45 -20 -5" in page.text


def test_swatches_without_their_undyed_base_are_refused_with_the_way_out(own):
    table = "\n".join(line for line in TABLE.splitlines() if not line.startswith(",0,"))
    page = own.post("/shelf/swatches", data={"table": table})
    assert "undyed colour of ecru is not measured" in text_of(page)
    page = own.get("/colours/new", params={"target": "45 -20 -5"})
    assert "add a swatch of depth 0" in text_of(page)


def test_a_target_gets_recipes_a_verdict_and_how_sure(stocked):
    page = stocked.get("/colours/new", params={"target": "50 5 10", "weight": "250 g"})
    words = text_of(page)

    assert page.status_code == 200
    for expected in ("Wanted", "Foretold", "Closest", "in 19 of 20 pots", "Plan a pot"):
        assert expected in words
    assert 'value="250 g"' in page.text
    assert "/plan?dyes=" in page.text
    assert "linear-gradient(to right" in page.text


def test_grams_are_depth_times_yarn(stocked):
    # 1 % of 250 g is 2.5 g (the trade's rule: 1 % is 1 g per 100 g; common practice).
    page = stocked.get("/colours/new", params={"target": "50 5 10", "weight": "250 g", "depth.Lagoon": "1"})
    assert "2.5 g" in text_of(page).replace("\u202f", " ")


def test_a_lab_target_does_not_claim_to_know_other_light_and_says_so_once(stocked):
    words = text_of(stocked.get("/colours/new", params={"target": "50 5 10"}))
    assert words.count("Whether the two still agree under other light is not known") == 1


CURVE = {f"R{nm}": 0.2 + 0.3 * (nm - 400) / 300 for nm in range(400, 701, 10)}


def sample_file(**more):
    columns = {"name": "leaf", **CURVE, **more}
    return "\n".join((",".join(columns), ",".join(str(value) for value in columns.values()))).encode()


def test_a_measured_sample_becomes_the_target_and_its_curve_is_kept_with_the_colour(stocked):
    page = stocked.post("/colours/sample", files={"sample": ("leaf.csv", sample_file(), "text/csv")})
    words = text_of(page)
    assert "wanted: the sample in leaf.csv" in words
    assert "a measured colour" in words
    assert "Whether the two still agree" not in words
    assert re.search(r"Lamp\s+\d+\.\d", words), "a curve tells of other light too"

    target = re.search(r'name="target" value="(curve [^"]+)"', page.text).group(1)
    mix = {"target": target, "kind": "measured", "from": "leaf.csv", "depth.Lagoon": "0.12", "name": "Leaf"}
    stocked.post("/colours", data=mix)
    kept = text_of(stocked.get("/colours/1"))
    assert re.search(r"Lamp\s+\d+\.\d", kept)
    assert "a measured colour" in text_of(stocked.get("/colours"))


TWO = sample_file() + b"\n" + sample_file(name="bark").split(b"\n")[1]


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({}, "choose the file with the measured sample first"),
        ({"files": {"sample": ("two.csv", TWO)}}, "2 samples"),
        ({"files": {"sample": ("skein.jpg", b"\xff\xd8\xff\xe0\0\x10JFIF\0")}}, "skein.jpg"),
        ({"files": {"sample": ("big.csv", b"a" * 2_000_001)}}, "2.0 MB"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_single_sample_is_refused_beside_its_field(stocked, sent, says):
    page = stocked.post("/colours/sample", **sent)
    assert page.status_code == 422
    assert says in text_of(page)
    assert 'id="sample-help"' in page.text


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"target": "#8a4a44"}, "picked on a screen: an intention, not a measurement"),
        ({"target": "50 5 10"}, "typed as Lab"),
        ({"target": "swatch 3"}, "a measured colour"),
        ({"target": "50 5 10", "kind": "lot"}, "the colour of a lot"),
        ({"target": "50 5 10", "kind": "picture"}, "out of a picture"),
        ({"target": "50 5 10", "kind": "hearsay"}, "typed as Lab"),
        ({"target": "#8a4a44", "kind": "lot", "of": "50 5 10"}, "picked on a screen"),
    ],
)
def test_the_page_says_what_its_target_is_known_by(stocked, asked, says):
    assert says in text_of(stocked.get("/colours/new", params=asked))


def test_what_the_target_is_known_by_stays_with_the_colour(stocked):
    stocked.post("/colours", data={"target": "50 5 10", "kind": "lot", "depth.Lagoon": "0.1", "name": "As lot 4"})
    assert "the colour of a lot" in text_of(stocked.get("/colours/1"))
    stocked.post("/colours/1", data={"target": "50 5 10", "kind": "lot", "depth.Lagoon": "0.2", "name": "As lot 4"})
    assert "the colour of a lot" in text_of(stocked.get("/colours"))


def slips(page):
    return [unescape(text) for text in re.findall(r'slip-dyes">([^<]+)<', page.text)]


def test_recipes_keep_to_the_limits(stocked):
    asked = {"target": "50 5 10", "limits": "set", "max_dyes": "2", "must.Gorse": "on", "never.Lagoon": "on"}
    page = stocked.get("/colours/new", params=asked)
    found = slips(page)
    assert found
    for dyes in found:
        assert "Gorse" in dyes
        assert "Lagoon" not in dyes
        assert dyes.count("%") <= 2
    assert "up to 2 dyes, none beyond 4 %, with Gorse, without Lagoon" in text_of(page)


def test_classes_that_do_not_go_into_one_bath_are_kept_apart_unless_asked(stocked):
    # A levelling acid dye and a cold reactive dye: kept apart by the rule of the trade in data/dye_company.csv.
    page = stocked.get("/shelf").text
    classes = {"Lagoon": "acid levelling", "Rowan": "reactive dichlorotriazine", "Gorse": "acid levelling"}
    for name, dye_class in classes.items():
        dye_id = re.search(rf"/shelf/dyes/(\d+)\">{name}", page).group(1)
        stocked.post(f"/shelf/dyes/{dye_id}", data={"name": name, "dye_class": dye_class})
    asked = {"target": "50 5 10", "limits": "set", "max_dyes": "3"}
    apart = stocked.get("/colours/new", params=asked | {"apart": "on"})
    assert "Lagoon and Rowan do not go into one bath" in text_of(apart)
    assert not any("Rowan" in dyes and dyes.count("%") > 1 for dyes in slips(apart))
    free = stocked.get("/colours/new", params=asked)
    assert any("Rowan" in dyes and dyes.count("%") > 1 for dyes in slips(free))


def test_a_dye_of_which_too_little_is_left_is_named_as_not_tried(stocked):
    page = stocked.get("/shelf").text
    dye_id = re.search(r"/shelf/dyes/(\d+)\">Rowan", page).group(1)
    stocked.post(f"/shelf/dyes/{dye_id}", data={"name": "Rowan", "dye_class": "acid milling", "on_shelf_g": "0"})
    page = stocked.get("/colours/new", params={"target": "50 5 10"})
    assert "Too little is left to be tried: Rowan." in text_of(page)
    assert not any("Rowan" in dyes for dyes in slips(page))


def test_limits_go_along_with_a_slip_and_with_the_mix(stocked):
    asked = {"target": "50 5 10", "limits": "set", "max_dyes": "2", "never.Lagoon": "on"}
    page = stocked.get("/colours/new", params=asked)
    link = unescape(re.search(r'class="slip" href="([^"]+)"', page.text).group(1))
    assert "never.Lagoon=on" in link
    assert "max_dyes=2" in link
    mix_form = page.text[page.text.index('id="mix"') :]
    assert '<input type="hidden" name="never.Lagoon" value="on">' in mix_form


def test_no_dye_goes_deeper_than_asked_nor_than_what_is_left(stocked):
    # 0.3 g of a dye on 100 g of yarn are 0.3 % (the trade's rule, common practice).
    page = stocked.get("/shelf").text
    for name in ("Lagoon", "Rowan", "Gorse"):
        dye_id = re.search(rf"/shelf/dyes/(\d+)\">{name}", page).group(1)
        form = {"name": name, "dye_class": "acid milling", "on_shelf_g": "0.3"}
        assert stocked.post(f"/shelf/dyes/{dye_id}", data=form).status_code == 200
    deep = {"target": "20 5 5", "weight": "100 g"}
    for asked in (deep, deep | {"limits": "set", "deepest": "0.3"}):
        depths = [
            float(part)
            for part in re.findall(r"([\d.]+)\s%", " ".join(slips(stocked.get("/colours/new", params=asked))))
        ]
        assert max(depths) <= 0.3001
    free = stocked.get("/colours/new", params=deep | {"limits": "set"})
    assert max(float(part) for part in re.findall(r"([\d.]+)\s%", " ".join(slips(free)))) > 0.5


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"max_dyes": "7"}, "a recipe of '7' dyes was asked for"),
        ({"deepest": "0"}, "the deepest that one dye may go was given as 0 %"),
        ({"deepest": "lots"}, "the deepest that one dye may go was given as 'lots'"),
        ({"scale": "2 zorks"}, "zorks"),
        ({"scale": "0 g"}, "the scale's step was given as 0 g"),
        ({"cost": "-1"}, "the most that the dye may cost was given as -1"),
        ({"cost": "nan"}, "the most that the dye may cost was given as nan"),
        ({"cost": "1", "cost_of": "skein"}, "the weight of a skein of this yarn is not on the shelf"),
        ({"must.Woad": "on"}, "dye 'Woad' has no swatch"),
        ({"must.Rowan": "on", "never.Rowan": "on"}, "Rowan must be in the recipe, but another limit keeps it out"),
        ({"max_dyes": "1", "must.Rowan": "on", "must.Gorse": "on"}, "2 dyes must be in the recipe"),
    ],
)
def test_a_wrong_limit_is_named_beside_its_field_and_the_mix_in_hand_stays(stocked, asked, says):
    sent = {"target": "50 5 10", "limits": "set", "depth.Lagoon": "0.4", **asked}
    page = stocked.get("/colours/new", params=sent)
    assert page.status_code == 422
    assert says in text_of(page)
    assert '<details class="card limits" id="limits" open>' in page.text
    assert 'name="depth.Lagoon" value="0.4"' in page.text
    for key, value in asked.items():
        assert key in page.text
        assert value in page.text


def test_a_dose_too_small_for_the_scale_says_how_it_is_measured(stocked):
    # 0.003 % of 50 g is 1.5 mg (by hand); at 5 mL or more a dose, 0.01 % stock (0.1 g/L) gives 15 mL of it.
    asked = {"target": "50 5 10", "weight": "50 g", "depth.Lagoon": "0.003", "depth.Rowan": "0.0004"}
    words = text_of(stocked.get("/colours/mixture", params=asked))
    assert "0.003 % of 50 g is 1.5 mg, too little for a scale of 0.1 g: 15 mL of 0.01 % stock" in words
    # 0.0004 % of 50 g is 0.2 mg: 2 mL of that stock, below the 5 mL that a syringe measures well.
    assert "is 0.2 mg, too little for a scale of 0.1 g: 2 mL of 0.01 % stock, too little to measure well" in words


def test_a_target_out_of_reach_is_said_plainly(stocked):
    words = text_of(stocked.get("/colours/new", params={"target": "60 -70 60"}))
    assert words.lower().count("out of reach") == 1
    assert "Out of reach by" in words
    # the recipe on show is the nearest already: the map's card only says which part stays off
    assert re.search(r"dyes? comes? no nearer: (lightness|chroma|hue)[a-z ]* off", words)


def test_the_picked_colour_is_used_by_its_own_button(stocked):
    page = stocked.get("/colours/new", params={"target": "", "picked": "#a05040", "use": "picked"})
    assert "#a05040" in page.text
    assert "Foretold" in page.text


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"target": "blue"}, "the colour 'blue' is not understood"),
        ({"target": "swatch /etc/passwd"}, "there is no swatch /etc/passwd on record"),
        ({"target": "swatch 999"}, "there is no swatch 999 on record"),
        ({"target": "50 5 10", "weight": "0 g"}, "dry yarn"),
        ({"target": "50 5 10", "weight": "3 zorks"}, "zorks"),
        ({"target": "50 5 10", "depth.Lagoon": "-1"}, "the depth of Lagoon is -1 %"),
        ({"target": "50 5 10", "depth.Lagoon": "much"}, "the depth of Lagoon is 'much'"),
        ({"target": "50 5 10", "depth.Woad": "1"}, "dye 'Woad' has no swatch"),
        ({"target": "50 5 10", "base": "silk"}, "base 'silk' has no undyed swatch"),
    ],
)
def test_a_wrong_field_is_named_and_everything_typed_is_kept(stocked, asked, says):
    page = stocked.get("/colours/new", params=asked)
    assert page.status_code == 422
    assert says in text_of(page)
    for key, value in asked.items():
        assert value in unescape(page.text), key


def test_a_moved_slider_gets_only_the_parts_it_changes(stocked):
    asked = {"target": "50 5 10", "depth.Lagoon": "0.4", "depth.Rowan": "0.2"}
    first = stocked.get("/colours/mixture", params=asked).text
    second = stocked.get("/colours/mixture", params=asked | {"depth.Lagoon": "0.8"}).text

    assert "<html" not in first
    for part in ("pairs", "foretold", "pill-D65", "answer", "track-0", "track-1", "weigh-0", "doses", "surer"):
        assert f'data-part="{part}"' in first
    assert first != second


def test_a_moved_slider_is_answered_quickly(stocked):
    asked = {"target": "50 5 10", "depth.Lagoon": "0.4"}
    stocked.get("/colours/mixture", params=asked)
    times = []
    for step in range(9):
        start = time.perf_counter()
        stocked.get("/colours/mixture", params=asked | {"depth.Lagoon": str(0.1 * step)})
        times.append(time.perf_counter() - start)
    # The aim is 0.1 s a round trip; twice that leaves room for a machine that is doing something else.
    assert sorted(times)[4] < 0.2


def test_a_kept_colour_goes_on_with_the_yarn_and_the_limits_that_were_typed(stocked):
    typed = {"target": "50 5 10", "depth.Lagoon": "0.12", "name": "Beech", "weight": "230 g", "never.Gorse": "on"}
    page = stocked.post("/colours", data=typed | {"limits": "set"})
    assert 'name="weight" value="230 g"' in page.text
    assert re.search(r'name="never\.Gorse" checked', page.text)


def test_a_colour_out_of_reach_leads_to_what_would_help(stocked):
    page = stocked.get("/colours/new", params={"target": "60 80 60"})
    ways = re.search(r'<ul class="plain ways-on">(.*?)</ul>', page.text, re.DOTALL).group(1)
    advice, _, over = (unescape(address) for address in re.findall(r'href="([^"]+)"', ways))
    assert "lab 60.00 80.00 60.00" in text_of(stocked.get(advice))
    assert 'value="60 80 60"' in stocked.get(over).text
    swatch = dict(zip(TABLE.splitlines()[0].split(","), TABLE.splitlines()[3].split(","), strict=True))
    own = " ".join(swatch[axis] for axis in "Lab")  # what one of its swatches shows, the shelf reaches
    assert "ways-on" not in stocked.get("/colours/new", params={"target": own}).text


def test_a_colour_is_kept_found_changed_and_taken_out(stocked):
    mix = {"target": "50 5 10", "from": "a beech leaf", "depth.Lagoon": "0.12", "depth.Rowan": "0.3"}
    page = stocked.post("/colours", data={**mix, "name": "Beech leaf"})
    assert page.url.path == "/colours/1"
    assert "Beech leaf" in page.text
    assert "a beech leaf" in page.text
    assert 'value="0.12"' in page.text

    assert "Lagoon 0.12" in text_of(stocked.get("/colours"))
    page = stocked.post("/colours/1", data={**mix, "name": "Beech leaf", "depth.Rowan": "0.35"})
    assert page.url.path == "/colours/1"
    assert 'value="0.35"' in page.text
    assert "Beech leaf" not in stocked.post("/colours/1/remove").text


@pytest.mark.parametrize(
    ("change", "says"),
    [({"name": ""}, "give the colourway a name"), ({"depth.Lagoon": "0", "depth.Rowan": ""}, "no dye in this mix")],
)
def test_a_colour_that_cannot_be_kept_loses_nothing(stocked, change, says):
    typed = {"target": "50 5 10", "name": "Beech leaf", "depth.Lagoon": "0.12", "depth.Rowan": "0.3"} | change
    page = stocked.post("/colours", data=typed)
    assert page.status_code == 422
    assert says in text_of(page)
    assert typed["name"] in page.text


def test_a_fluorescent_dye_is_never_matched(stocked):
    page = stocked.get("/shelf").text
    dye_id = re.search(r"/shelf/dyes/(\d+)\">Rowan", page).group(1)
    stocked.post(f"/shelf/dyes/{dye_id}", data={"name": "Rowan", "dye_class": "acid milling", "is_fluorescent": "on"})
    page = stocked.get("/colours/new", params={"target": "50 40 20"})
    assert "left out: Rowan, fluorescent" in page.text
    assert "depth.Rowan" not in page.text


def test_the_demo_finds_recipes_and_knows_other_light_for_a_measured_swatch(fresh):
    colours = fresh.get("/demo/colours")
    assert "Sea-green" in colours.text
    choose = fresh.get("/demo/colours/new").text
    target = re.search(r"/demo/colours/new\?(target=swatch[^&\"]+)", choose).group(1)
    page = fresh.get(f"/demo/colours/new?{target}")
    assert "Whether the two still agree" not in page.text
    assert re.search(r"Lamp\s+\d+\.\d", text_of(page))


SNIP = {"target": "50 5 10", "depth.Lagoon": "0.12", "depth.Rowan": "0.3", "depth.Gorse": "0.2"}


def depths_in(page):
    return {name: float(value) for name, value in re.findall(r'name="depth\.(\w+)" value="([\d.]+)"', page.text)}


@pytest.fixture
def thin(own):
    """One swatch a dye: what a shelf knows least from, so that a snip tells it most."""
    lines = TABLE.splitlines()
    few = [line for line in lines if line.split(",")[1] in {"depth_percent", "0", "1"}]
    assert own.post("/shelf/swatches", data={"table": "\n".join(few)}).status_code == 200
    return own


def test_a_pale_snip_asks_for_more_dye(thin):
    foretold = thin.get("/colours/new", params=SNIP)
    assert foretold.status_code == 200
    # A snip that is lighter than the target, of its hue: by whatever model, the remedy is more dye.
    page = thin.get("/colours/new", params=SNIP | {"snip": "60 5 10"})
    words = text_of(page)
    assert "The snip came out" in words
    assert re.search(r"More (Lagoon|Rowan|Gorse): [\d.]+.% → [\d.]+.%", words)
    assert "Foretold with these:" in words


def test_the_moved_recipe_is_taken_and_the_snip_kept_as_a_swatch(thin):
    sent = SNIP | {"snip": "60 5 10", "keep_swatch": "on", "check_name": "Beech leaf"}
    page = thin.post("/colours/snip", data=sent)
    assert page.url.path == "/colours/new"
    moved = depths_in(page)
    before = {"Lagoon": 0.12, "Rowan": 0.3, "Gorse": 0.2}
    assert moved.keys() == before.keys()
    assert sum(moved.values()) > sum(before.values())

    saved = thin.get("/shelf/swatches.csv").text
    assert "Lagoon=0.12+Rowan=0.3+Gorse=0.2" in saved
    assert ",60" in next(line for line in saved.splitlines() if "Lagoon=0.12" in line)


def test_without_its_tick_a_snip_moves_the_recipe_only(thin):
    before = thin.get("/shelf/swatches.csv").text
    assert thin.post("/colours/snip", data=SNIP | {"snip": "60 5 10"}).status_code == 200
    assert thin.get("/shelf/swatches.csv").text == before


def test_a_snip_of_a_kept_colour_stays_with_it(thin):
    thin.post("/colours", data={**SNIP, "name": "Beech leaf"})
    page = thin.post("/colours/1/snip", data=SNIP | {"snip": "60 5 10"})
    assert page.url.path == "/colours/1"
    assert "Beech leaf" in page.text


def test_a_snip_set_by_eye_on_a_screen_counts_for_less(thin):
    # Both snips have the same colour: the grey of L* 60 is #919191 in sRGB (colour-science 0.4.7: L* 60.0).
    by_eye = thin.post("/colours/snip", data=SNIP | {"snip": "#919191"})
    read = thin.post("/colours/snip", data=SNIP | {"snip": "60 0 0"})
    before = np.array([0.12, 0.3, 0.2])
    moves = [np.abs(np.log(np.array(list(depths_in(page).values())) / before)).sum() for page in (by_eye, read)]
    assert moves[0] < moves[1]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"snip": "teal"}, "the colour 'teal' is not understood"),
        ({"snip_skein": "photo 1 2"}, "that skein is on no judged photo"),
        ({"snip": "60 5 10", "depth.Lagoon": "", "depth.Rowan": "", "depth.Gorse": "0"}, "there is no dye"),
    ],
)
def test_a_wrong_snip_is_said_beside_its_field_and_nothing_is_lost(thin, change, says):
    sent = SNIP | change
    for page in (thin.get("/colours/new", params=sent), thin.post("/colours/snip", data=sent)):
        assert page.status_code == 422
        assert says in text_of(page)
        assert change.get("snip", "") in unescape(page.text)


def test_no_snip_is_asked_for(thin):
    page = thin.post("/colours/snip", data=SNIP)
    assert page.status_code == 422
    assert "what did the snip come out as?" in text_of(page)


def test_over_dyeing_finds_additions(stocked):
    page = stocked.get("/colours/overdye", params={"have": "70 -5 20", "target": "40 5 5", "weight": "200 g"})
    words = text_of(page)
    assert page.status_code == 200
    assert "As it is" in words
    assert "What to add" in words or "The nearest that additions come" in words
    assert "/plan?dyes=" in page.text
    assert "weight=200+g" in page.text


def test_a_lighter_target_is_refused_with_what_helps(stocked):
    # Two rungs of one ladder, from the deep one to the pale one: dye only darkens, whatever the model.
    page = stocked.get("/colours/overdye", params={"have": "swatch 5", "target": "swatch 3"})
    words = text_of(page)
    assert "the target is lighter than the yarn" in words.lower()
    assert "stripping" in words.lower()
    assert 'class="caution"' in page.text
    darker = unescape(re.search(r'href="(/colours/overdye\?[^"]+)">.{0,80}', page.text).group(1))
    assert "target=lab" in darker
    assert "Within reach" in text_of(stocked.get(darker))


def test_yarn_that_is_there_already_is_left_alone(stocked):
    words = text_of(stocked.get("/colours/overdye", params={"have": "50 5 10", "target": "50 5 10"}))
    assert "It is there already" in words
    assert "What to add" not in words


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"have": "teal", "target": "50 5 10"}, "the colour 'teal' is not understood"),
        ({"have": "50 5 10", "target": "swatch 99"}, "there is no swatch 99 on record"),
        ({"have": "50 5 10", "target": "40 5 5", "weight": "0 g"}, "the dry yarn weighs 0 g"),
        ({"have": "50 5 10", "target": "40 5 5", "base": "silk"}, "silk"),
    ],
)
def test_a_wrong_field_of_over_dyeing_is_named_and_kept(stocked, asked, says):
    page = stocked.get("/colours/overdye", params=asked)
    assert page.status_code == 422
    assert says in text_of(page)
    for value in asked.values():
        assert value in page.text


def test_a_blend_is_shown_with_its_parts_and_why_it_is_no_dye_mix(stocked):
    page = stocked.get(
        "/colours/blend", params={"part.1": "70 -5 20", "share.1": "2", "part.2": "40 10 -30", "share.2": "1"}
    )
    words = text_of(page)
    assert page.status_code == 200
    for expected in ("67 %", "33 %", "Together", "87 blended yarns", "Friele", "The rule for dyes would say"):
        assert expected in words
    target = unescape(re.search(r'href="/colours/new\?(target=[^"]+)"', page.text).group(1))
    assert stocked.get(f"/colours/new?{target}").status_code == 200


def test_a_swatch_is_put_into_the_next_empty_row_of_a_blend(stocked):
    page = stocked.get("/colours/blend", params={"part.1": "70 -5 20"})
    link = unescape(re.search(r'href="(/colours/blend\?part[^"]+swatch[^"]+)"', page.text).group(1))
    page = stocked.get(link)
    assert re.search(r'name="part.2" value="swatch \d+"', page.text)
    assert "Together" in text_of(page)


def test_a_wrong_part_of_a_blend_keeps_all_that_was_typed(stocked):
    asked = {"part.1": "70 -5 20", "share.1": "2", "part.2": "mud", "share.2": "1", "blend": "1"}
    page = stocked.get("/colours/blend", params=asked)
    assert page.status_code == 422
    assert "the colour 'mud' is not understood" in text_of(page)
    for value in asked.values():
        assert value in page.text


def test_what_the_dyes_of_a_mix_reach_is_said_and_drawn_with_target_and_mix(stocked):
    asked = {"target": "60 -70 60", "depth.Lagoon": "0.3", "depth.Rowan": "0.2"}
    page = stocked.get("/colours/mixture", params=asked)
    assert re.search(r"These 2 dyes come to ΔE00 \d+\.\d at best: (lightness|chroma|hue)[a-z ]* off", text_of(page))
    assert "wanted" in page.text
    assert "this mix" in page.text
    assert "<svg" in page.text


def test_dyes_are_set_at_their_best_by_a_link_that_comes_nearer(stocked):
    def off(page):
        return float(re.search(r'class="figure">([\d.]+)', page.text).group(1))

    asked = {"target": "50 5 10", "limits": "set", "max_dyes": "2", "depth.Lagoon": "0.01", "depth.Rowan": "0.01"}
    page = stocked.get("/colours/new", params=asked)
    better = unescape(re.search(r'href="/colours/new\?([^"]+)">Set them at their best', page.text).group(1))
    assert "max_dyes=2" in better
    nearer = stocked.get(f"/colours/new?{better}")
    assert off(nearer) < off(page)
    assert "Set them at their best" not in nearer.text


def test_a_moved_slider_keeps_the_colourway_of_its_plan(stocked):
    asked = {"target": "50 5 10", "depth.Lagoon": "0.3", "colourway": "7"}
    assert "colourway=7#sheet-title" in stocked.get("/colours/mixture", params=asked).text
    assert "colourway=" not in stocked.get("/colours/mixture", params=asked | {"colourway": "7/x"}).text
