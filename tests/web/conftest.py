"""The whole application on temporary studios, spoken to as a browser does."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from ready import place_demo
from starlette.testclient import TestClient

from dyewright.web.app import create_app


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[TestClient]:
    """A machine on which nobody has begun a studio."""
    app = create_app(str(tmp_path / "own.sqlite"), place_demo(tmp_path))
    with TestClient(app, base_url="http://127.0.0.1") as client:
        yield client


@pytest.fixture
def own(fresh: TestClient) -> TestClient:
    """A studio of one's own, just begun."""
    answer = fresh.post("/begin", data={"name": "Test shed"})
    assert answer.status_code == 200, answer.text
    return fresh
