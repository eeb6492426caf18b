from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dyewright.core.model import Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.files.swatches import read_mix, read_sample, read_swatches, write_swatches

LAB_TABLE = """dye,depth_percent,base,L,a,b,illuminant,observer
Blue,0,merino,87.1,0.4,11.2,D65,10
Blue,0.5,merino,52.0,-8.1,-24.9,D65,10
"Blue=0.5+Yellow=0.2",,merino,48.0,-30.2,5.0,D65,10
"""
NM = range(400, 701, 10)


def read(text, name="swatches.csv"):
    return read_swatches(text.encode(), name)


def test_a_table_of_labs_is_read():
    base, blue, mix = read(LAB_TABLE)

    assert base == Swatch({}, "merino", lab=(87.1, 0.4, 11.2))
    assert blue == Swatch({"Blue": 0.005}, "merino", lab=(52.0, -8.1, -24.9))
    assert mix.depths_owf == {"Blue": 0.005, "Yellow": 0.002}


def test_a_table_of_curves_is_read():
    header = "dye,depth_percent,base," + ",".join(f"R{nm}" for nm in NM)
    values = ",".join(f"{0.1 + 0.01 * place:.2f}" for place in range(31))
    (swatch,) = read(f"{header}\nRed,1,silk,{values}\n")

    assert swatch.reflectance == pytest.approx([0.1 + 0.01 * place for place in range(31)])
    assert swatch.lab is None
    assert swatch.source == "spectrophotometer"


def test_curves_in_per_cent_are_known_by_their_size():
    header = "dye,depth_percent,base," + ",".join(f"R{nm}" for nm in NM)
    (swatch,) = read(f"{header}\nRed,1,silk,{','.join(['45'] * 31)}\n")
    assert swatch.reflectance == pytest.approx([0.45] * 31)


def test_a_spreadsheets_semicolons_decimal_commas_and_byte_order_mark():
    text = "\ufeffDye;Depth_percent;Base;L;a;b\nBlau;0,5;Merino;52,0;-8,1;-24,9\n"
    (swatch,) = read_swatches(text.encode("utf-8"), "blau.csv")
    assert swatch == Swatch({"Blau": 0.005}, "Merino", lab=(52.0, -8.1, -24.9))


def test_an_older_spreadsheets_letters():
    text = "dye,depth_percent,base,L,a,b\nGrün,1,Wolle,40,-30,10\n"
    (swatch,) = read_swatches(text.encode("cp1252"), "gruen.csv")
    assert swatch.depths_owf == {"Grün": 0.01}


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("Blue,-0.5,merino,52,0,0", r"line 2, column depth_percent: -0.5 % is not a depth; it lies between 0 %"),
        ("Blue,half,merino,52,0,0", r"line 2, column depth_percent: 'half' is not a number"),
        ("Blue,,merino,52,0,0", r"line 2, column depth_percent: the depth of Blue is missing"),
        (",0.5,merino,52,0,0", r"line 2, column dye: the dye of this swatch at 0.5 % is missing"),
        ("Blue,0.5,,52,0,0", r"line 2, column base: the name of the base is missing"),
        ("Blue,0.5,merino,152,0,0", r"line 2, column L: 152 is outside 0 to 100"),
        ("Blue,0.5,merino,52,,0", r"line 2, column a: the colour is missing"),
        ("Blue=0.5+Yellow,,merino,52,0,0", r"line 2, column dye: 'Blue=0.5\+Yellow' is not a part of a mix"),
        ("Blue=0.5,0.5,merino,52,0,0", r"line 2, column depth_percent: a mix states its depths in dye"),
        ("Blue,0,5,merino,52,0,0", r"line 2: the row has another number of cells"),
        ("Blue,0.5,merino", r"line 2: the row has another number of cells"),
    ],
)
def test_a_wrong_cell_is_named_with_its_line_and_column(row, says):
    with pytest.raises(InputError, match=says):
        read(f"dye,depth_percent,base,L,a,b\n{row}\n")


def test_a_reflectance_beyond_one_is_named():
    header = "dye,depth_percent,base," + ",".join(f"R{nm}" for nm in NM)
    cells = ["0.45"] * 31
    cells[15] = "45"
    with pytest.raises(InputError, match="line 2, column R550: 45 is not a reflectance"):
        read(f"{header}\nRed,1,silk,{','.join(cells)}\n")


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "holds no rows"),
        (b"dye,depth_percent,base,L,a,b\n", "holds no rows"),
        (b"\x89PNG\r\n\x1a\n\0\0", "not a text file"),
        (b"name,L,a,b\nBlue,1,2,3\n", "no column dye"),
    ],
)
def test_a_file_that_is_no_swatch_table_is_named(data, says):
    with pytest.raises(InputError, match=rf"shelf\.csv.*{says}"):
        read_swatches(data, "shelf.csv")


SWATCHES = st.builds(
    Swatch,
    depths_owf=st.dictionaries(
        st.text("abcdefgh äß", min_size=1).map(str.strip).filter(lambda name: name not in {"", "base"}),
        st.integers(1, 80_000).map(lambda millionths: millionths / 1e6),
        max_size=3,
    ),
    base=st.sampled_from(["merino", "wool–silk, 80/20"]),
    lab=st.tuples(*[st.integers(-90, 90).map(float)] * 3).map(lambda lab: (abs(lab[0]), lab[1], lab[2])),
    illuminant=st.sampled_from(["D65", "D50", "A"]),
    observer=st.sampled_from([2, 10]),
    source=st.sampled_from(["colorimeter", "photo"]),
    dyed_on=st.none() | st.dates(date(2000, 1, 1)),
    note=st.sampled_from(["", 'says "hello", twice']),
    noise_de00=st.none() | st.sampled_from([0.25, 5.0]),
    reads=st.integers(1, 9),
).flatmap(
    lambda swatch: st.fixed_dictionaries(
        dict.fromkeys(swatch.depths_owf, st.sampled_from(["17", "A3+b", "2026/4"]))
    ).map(lambda lots: replace(swatch, dye_lots=lots))
)


@given(st.lists(SWATCHES, min_size=1, max_size=5))
def test_what_is_written_is_read_back(swatches):
    again = read(write_swatches(swatches))
    for one, two in zip(again, swatches, strict=True):
        assert replace(one, depths_owf={}) == replace(two, depths_owf={})
        assert one.depths_owf == pytest.approx(dict(two.depths_owf))


def test_curves_are_written_and_read_back():
    swatch = Swatch({"Red": 0.01}, "silk", reflectance=tuple(np.linspace(0.1, 0.7, 31)), source="spectrophotometer")
    (again,) = read(write_swatches([swatch]))
    assert again.reflectance == pytest.approx(swatch.reflectance)


@pytest.mark.parametrize(
    ("text", "depths"),
    [
        ("Blue=0.5,Yellow=0.2", {"Blue": 0.005, "Yellow": 0.002}),
        ("Blue=0.5+Yellow=0.2 %", {"Blue": 0.005, "Yellow": 0.002}),
        ("Blue = 0,5, Yellow = 0,2", {"Blue": 0.005, "Yellow": 0.002}),
        ("Sea green=1", {"Sea green": 0.01}),
    ],
)
def test_mixes_are_read(text, depths):
    assert read_mix(text) == pytest.approx(depths)


@pytest.mark.parametrize(
    "text", ["", "Blue", "Blue=", "=0.5", "Blue=x", "Blue=0", "Blue=-1", "Blue=101", "Blue=1,Blue=2"]
)
def test_a_wrong_mix_is_named(text):
    with pytest.raises(InputError):
        read_mix(text)


CGATS = """CGATS.17
ORIGINATOR	"a spectrophotometer"
CREATED	"2026-03-12"
WEIGHTING_FUNCTION	"ILLUMINANT, D65"
WEIGHTING_FUNCTION	"OBSERVER, 10 degree"
NUMBER_OF_FIELDS	{fields}
BEGIN_DATA_FORMAT
SAMPLE_ID	SAMPLE_NAME	{names}
END_DATA_FORMAT
NUMBER_OF_SETS	2
BEGIN_DATA
1	"undyed on merino"	{one}
2	"Lake blue 0.5 % on merino"	{two}
END_DATA
"""


@pytest.mark.parametrize("prefix", ["SPECTRAL_", "SPECTRAL_NM", "SPEC_", "nm"])
@pytest.mark.parametrize(("scale", "comma"), [(1, "."), (100, "."), (1, ",")])
def test_cgats_curves_are_read_as_instruments_write_them(prefix, scale, comma):
    def cells(value):
        return "\t".join([f"{value * scale:.4f}".replace(".", comma)] * 31)

    names = "\t".join(f"{prefix}{nm}" for nm in NM)
    text = CGATS.format(fields=33, names=names, one=cells(0.8), two=cells(0.3)).replace(
        '"undyed on merino"', '"undyed"'
    )
    text = text.replace("BEGIN_DATA_FORMAT", 'BASE	"merino"\nBEGIN_DATA_FORMAT')
    base, blue = read_swatches(text.encode(), "measured.txt")

    assert base.depths_owf == {}
    assert base.reflectance == pytest.approx([0.8] * 31)
    assert blue.depths_owf == {"Lake blue": 0.005}
    assert blue.base == "merino"
    assert blue.reflectance == pytest.approx([0.3] * 31)


def test_cgats_labs_take_the_light_the_header_states():
    text = CGATS.format(fields=5, names="LAB_L\tLAB_A\tLAB_B", one="87\t0\t11", two="52\t-8\t-25")
    text = text.replace('"undyed on merino"', '"undyed"').replace(
        "BEGIN_DATA_FORMAT", "BASE	merino\nBEGIN_DATA_FORMAT"
    )
    base, blue = read_swatches(text.encode(), "measured.txt")

    assert (base.lab, base.illuminant, base.observer) == ((87, 0, 11), "D65", 10)
    assert blue.lab == (52, -8, -25)


def test_cgats_separated_by_spaces_with_a_quoted_name():
    text = (
        "CGATS.17\nBASE silk\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
        'BEGIN_DATA\n"Old rose 1 %" 55 30 8\nEND_DATA\n'
    )
    (swatch,) = read_swatches(text.encode(), "rose.txt")
    assert swatch.depths_owf == {"Old rose": 0.01}
    # No light stated: the graphic trade's D50, 2°.
    assert (swatch.illuminant, swatch.observer) == ("D50", 2)


def test_a_cgats_file_cut_off_is_said():
    text = CGATS.format(fields=5, names="LAB_L\tLAB_A\tLAB_B", one="87\t0\t11", two="52\t-8\t-25")
    with pytest.raises(InputError, match=r"cut\.txt ends before END_DATA"):
        read_swatches(text.partition("END_DATA\n")[0].encode(), "cut.txt")


def test_a_cgats_row_with_cells_missing_is_named():
    text = CGATS.format(fields=5, names="LAB_L\tLAB_A\tLAB_B", one="87\t0", two="52\t-8\t-25")
    with pytest.raises(InputError, match="line 12: 4 values, but the format names 5 fields"):
        read_swatches(text.encode(), "short.txt")


def spectral(names, rows, *, header="", between="\t"):
    """A CGATS file of our own making, written from memory of the standard."""
    lines = ["CGATS.17", header, "BEGIN_DATA_FORMAT", between.join(names), "END_DATA_FORMAT", "BEGIN_DATA"]
    return "\n".join([*lines, *(between.join(row) for row in rows), "END_DATA", ""])


NAMES = ["SAMPLE_NAME", *(f"SPECTRAL_{nm}" for nm in NM)]


@pytest.mark.parametrize("field", ["SPEC_{}", "SPECTRAL_NM_{}", "NM_{}", "{}", "{}nm", "R_{}", "SPECTRAL_{}.00"])
def test_further_spellings_of_a_wavelength(field):
    names = ["SAMPLE_NAME", *(field.format(nm) for nm in NM)]
    (swatch,) = read(spectral(names, [['"Rose 1 % on silk"', *["0.25"] * 31]]))
    assert swatch.reflectance == pytest.approx([0.25] * 31)


@pytest.mark.parametrize(("field", "value"), [("SPECTRAL_DEC", "0.25"), ("SPECTRAL_PCT", "25,0")])
def test_wavelengths_that_stand_beside_their_values(field, value):
    names = ["SAMPLE_NAME", *["SPECTRAL_NM", field] * 31]
    cells = [cell for nm in NM for cell in (str(nm), value)]
    (swatch,) = read(spectral(names, [['"Rose 1 % on silk"', *cells]]))
    assert swatch.reflectance == pytest.approx([0.25] * 31)


def test_windows_line_ends_comments_wrong_counts_and_tabs_at_the_end():
    text = spectral(NAMES, [['"Rose 1 % on silk"', *["0.25"] * 31, ""]], header="# by hand\nNUMBER_OF_SETS\t999")
    text = text.replace("BEGIN_DATA\n", "BEGIN_DATA\n# a remark\n\n")
    (swatch,) = read(text.replace("\n", "\r\n"))
    assert swatch.depths_owf == {"Rose": 0.01}


def test_a_text_in_sixteen_bit_letters():
    text = spectral(NAMES, [['"Grün 1 % on Wolle"', *["0.25"] * 31]])
    (swatch,) = read_swatches(text.encode("utf-16"), "gruen.txt")
    assert swatch.depths_owf == {"Grün": 0.01}


def test_the_darkest_black_in_per_cent_is_not_taken_for_a_pale_yarn():
    # 1.2 % over most of the spectrum and 2 % at the red end, as a very dark navy reads.
    dark = [*["1.20"] * 28, "1.5", "1.8", "2.0"]
    (swatch,) = read(spectral(NAMES, [['"Soot 6 % on silk"', *dark]]))
    assert max(swatch.reflectance) == pytest.approx(0.02)


def test_a_file_that_states_its_scale_is_believed():
    text = spectral(NAMES, [['"Soot 6 % on silk"', *["1.20"] * 31]], header='SPECTRAL_NORM\t"100.0"')
    assert read(text)[0].reflectance == pytest.approx([0.012] * 31)


def test_scales_that_mix_within_a_file_are_asked_back():
    rows = [['"Rose 1 % on silk"', *["45"] * 31], ['"Rose 2 % on silk"', *["0.35"] * 31]]
    with pytest.raises(InputError, match=r"line 8, column R400: 0.35 is the curve's largest value, .* in per cent"):
        read(spectral(NAMES, rows))


def test_two_tables_of_the_same_samples_are_one_list():
    names = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    names += 'A1 "undyed on silk"\nA2 "Rose 1 % on silk"\nEND_DATA\n'
    labs = "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    labs += "A1 87 0 11\nA2 55 30 8\nEND_DATA\n"
    base, rose = read(names + labs)
    assert (base.depths_owf, base.base, base.lab) == ({}, "silk", (87, 0, 11))
    assert (rose.depths_owf, rose.lab) == ({"Rose": 0.01}, (55, 30, 8))


def test_two_tables_of_other_samples_are_joined_end_to_end():
    one = spectral(NAMES, [['"undyed on silk"', *["0.8"] * 31]])
    two = spectral(NAMES, [['"Rose 1 % on silk"', *["0.3"] * 31]])
    assert [swatch.depths_owf for swatch in read(one + two)] == [{}, {"Rose": 0.01}]


@pytest.mark.parametrize(
    ("name", "depths", "base"),
    [
        ("Lake blue 0,5 % on wool and silk", {"Lake blue": 0.005}, "wool and silk"),
        ("Lake blue=0.5+Gorse=0.25 on silk", {"Lake blue": 0.005, "Gorse": 0.0025}, "silk"),
        ("Undyed on silk", {}, "silk"),
    ],
)
def test_a_samples_name_states_its_recipe(name, depths, base):
    (swatch,) = read(spectral(NAMES, [[f'"{name}"', *["0.3"] * 31]]))
    assert swatch.depths_owf == pytest.approx(depths)
    assert swatch.base == base


def test_the_yarn_may_be_said_beside_the_file():
    text = spectral(NAMES, [['"undyed"', *["0.8"] * 31], ['"Rose 1 % on silk"', *["0.3"] * 31]])
    swatches = read_swatches(text.encode(), "rose.txt", base="Merino")
    assert [swatch.base for swatch in swatches] == ["Merino", "silk"]


READS = """sample,dye,depth_percent,base,L,a,b,dye_lot,note
7,Blue,0.5,merino,51.0,-8.0,-24.0,17,
7,Blue,0.5,merino,53.0,-8.0,-26.0,17,turned
8,Blue,0.5,merino,60.0,-8.0,-25.0,17,
9,Blue,0.5,merino,52.0,-8.0,-25.0,17,
9,Blue,0.5,merino,52.0,-8.0,-25.0,18,
"""


def test_readings_of_one_sample_become_their_mean():
    seven = read(READS)[0]

    # By hand: (51 + 53)/2 = 52, (-24 - 26)/2 = -25.
    assert (seven.lab, seven.reads, seven.note) == ((52, -8, -25), 2, "turned")
    # L* and b* are 1 off each, about 0.95 and 0.6 ΔE00 there (S_L 1.00 at 52, S_C 2.2): sum of squares about 2.5 in
    # all; half of the colorimeter's 0.3² as nine degrees of freedom: (9·0.045 + 2.5)/12 = 0.24, over 2 readings 0.12;
    # with the other half sqrt(0.12 + 0.045) = 0.41.
    assert seven.noise_de00 == pytest.approx(0.41, abs=0.04)
    assert (seven.dye_lots, seven.origin) == ({"Blue": "17"}, {"sample": "7"})


def test_samples_of_other_names_or_other_tubs_are_never_averaged():
    assert [(one.lab[0], one.reads, one.dye_lots["Blue"]) for one in read(READS)[1:]] == [
        (60, 1, "17"),
        (52, 1, "17"),
        (52, 1, "18"),
    ]
    unnamed = READS.replace("7,Blue", ",Blue")
    assert len(read(unnamed)) == 5


def test_readings_of_one_curve_are_averaged_too():
    text = spectral(NAMES, [['"Rose 1 % on silk"', *[value] * 31] for value in ("0.28", "0.32")])
    (swatch,) = read_swatches(text.encode(), "rose.txt", tables=load_observer_tables())
    assert swatch.reflectance == pytest.approx([0.30] * 31)
    assert swatch.reads == 2
    # L* of the greys 0.28 and 0.32 by CIE: 116·cbrt(Y) - 16 = 59.89 and 63.35; 1.73 off each, and S_L is
    # 1 + 0.015·11.6²/sqrt(20 + 11.6²) = 1.16: squares 4.43. Half of the spectrophotometer's 0.15² is 0.01125:
    # sqrt((9·0.01125 + 4.43)/12/2 + 0.01125) = 0.447.
    assert swatch.noise_de00 == pytest.approx(0.447, abs=0.005)


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ("Blue,0.5,17,0,1", "column noise_de00: 0 must be above 0"),
        ("Blue,0.5,17,0.3,0", "column reads: 0 must be a whole number from 1"),
        ("Blue,0.5,17,0.3,1.5", "column reads: 1.5 must be a whole number"),
        ("Blue=1+Red=2,,17,0.3,1", "column dye_lot: '17' does not say whose lot is which; write Blue=lot"),
    ],
)
def test_wrong_particulars_are_named(cells, says):
    with pytest.raises(InputError, match=says):
        read(f"dye,depth_percent,dye_lot,noise_de00,reads,base,L,a,b\n{cells},merino,52,0,0\n")


def test_remarks_above_the_column_names_are_passed_over():
    with pytest.raises(InputError, match="line 4, column L: 152 is outside"):
        read("sep=;\n# measured by the window\ndye;depth_percent;base;L;a;b\nBlue;1;merino;152;0;0\n")


def test_a_target_read_twice_is_the_mean():
    sample = read_sample(b"sample,L,a,b\nshawl,45,-20,-5\nshawl,47,-20,-5\n", "target.csv")
    assert (sample.lab, sample.reads) == ((46, -20, -5), 2)


def test_one_sample_needs_no_recipe():
    sample = read_sample(b"L,a,b,illuminant,observer\n45,-20,-5,D50,2\n", "target.csv")
    assert (sample.lab, sample.illuminant, sample.observer) == ((45, -20, -5), "D50", 2)


def test_a_target_of_several_samples_is_refused():
    with pytest.raises(InputError, match="holds 2 samples; a target is one"):
        read_sample(b"L,a,b\n45,-20,-5\n46,-20,-5\n", "target.csv")
