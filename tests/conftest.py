"""What every test may ask for."""

import os
from pathlib import Path

import pytest

SHARED = Path(__file__).resolve().parents[2] / "shared"
IS_CI = os.environ.get("CI", "").lower() == "true"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """The folder of open data beside the checkout; it is not on a user's machine."""
    if not (SHARED / "data").is_dir():
        pytest.skip("the open data beside the checkout is not on this machine")
    return SHARED / "data"
