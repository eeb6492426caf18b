import pytest

from dyewright.errors import InputError
from dyewright.files.chart_values import read_chart_values

ROWS = [f"{90 - 3 * i},{i},{-i}" for i in range(24)]


def written(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "chart.csv"
    path.write_text(text, encoding=encoding)
    return path


def test_a_plain_table_is_d50_and_2_degrees(tmp_path):
    values = read_chart_values(written(tmp_path, "L,a,b\n" + "\n".join(ROWS)))

    assert (values.illuminant, values.observer) == ("D50", 2)
    assert values.labs[2] == (84, 2, -2)


def test_semicolons_decimal_commas_and_other_columns(tmp_path):
    rows = "\n".join(f"{i};{50 + i};1,5;-2,25;D65;10" for i in range(24))
    values = read_chart_values(written(tmp_path, "patch;L;a;b;illuminant;observer\n" + rows, "utf-8-sig"))

    assert (values.illuminant, values.observer) == ("D65", 10)
    assert values.labs[0] == (50, 1.5, -2.25)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("L,a\n1,2", "lack the column b"),
        ("L,a,b\n" + "\n".join(ROWS[:20]), "have 20 rows; a chart of 24 patches needs 24"),
        ("L,a,b\n" + "\n".join([*ROWS[:23], "50,x,1"]), "line 25, column a: 'x' is no number"),
        ("L,a,b\n" + "\n".join([*ROWS[:23], "150,1,1"]), "line 25: L is 150"),
        ("L,a,b\n" + "\n".join([*ROWS[:23], "nan,1,1"]), "line 25, column L"),
        ("L,a,b,observer\n" + "\n".join(f"{row},5" for row in ROWS), "the observer is '5'"),
        ("", "lack the column L"),
    ],
)
def test_what_is_wrong_is_named(tmp_path, text, said):
    with pytest.raises(InputError, match=said) as caught:
        read_chart_values(written(tmp_path, text))

    assert caught.value.field == "chart_values"


def test_a_picture_is_no_table(tmp_path):
    path = tmp_path / "chart.png"
    path.write_bytes(b"\x89PNG\xff\xfe")
    with pytest.raises(InputError, match=r"chart\.png cannot be read as text"):
        read_chart_values(path)
