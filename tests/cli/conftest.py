"""What several commands are tried on."""

import pytest
from named_shelf import named_table


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """The swatch table of the named shelf, as a file."""
    path = tmp_path_factory.mktemp("shelf") / "swatches.csv"
    path.write_text(named_table(), encoding="utf-8")
    return path
