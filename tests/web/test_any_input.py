"""Whatever is sent to a studio is answered: a page, a refusal in words, but never a failure of the tool."""

import re
from html import unescape

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from ready import place_demo
from starlette.testclient import TestClient

from dyewright.web.app import create_app

NOBODY = "00000000-0000-4000-8000-000000000000"
# What people and scripts type where something else was meant.
AWKWARD = (
    "", " ", "0", "-1", "1e400", "nan", "inf", "-0.5 %", "12 zorks", "9" * 40, "1/0", "½ cup", "1:0", "0:1", "25:1",
    "250 g", "0.8 %", "12 L", "pH 5", "pH 99", "14 C", "-300 C", "white vinegar 5 %", "wool 100", "wool -1, silk 101",
    "lab 45 -20 -5", "lab 1e9 0 0", "#12", "#8a4a44", "swatch 1", "Lagoon 0.5 %", "Lagoon=-1", "1,2,3,4", "0,0,0,0",
    "-5,-5,1e9,1e9", "auto", "corners", "on", "1", "10:30", "25:61", "2026-02-30T10:00", "2026-11-25T10:00", NOBODY,
    "'; DROP TABLE runs; --", "<script>", "\u202e", "𝟙𝟚", "{}", "a" * 5000, "title = 1", "[yarn]", "0.001 mg",
    "1e-320 g",
)  # fmt: skip
QUIET = [HealthCheck.too_slow, HealthCheck.function_scoped_fixture, HealthCheck.data_too_large]


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    folder = tmp_path_factory.mktemp("any-input")
    return create_app(str(folder / "own.sqlite"), place_demo(folder))


@pytest.fixture(scope="module")
def client(app):
    with TestClient(app, base_url="http://127.0.0.1") as opened:
        yield opened


def operations(app):
    """Return every operation that the demo's studio describes in its OpenAPI document."""
    studio = next(route.app for route in app.routes if getattr(route, "path", "") == "/demo")
    schema = schemathesis.openapi.from_asgi("/openapi.json", studio)
    return [found.ok() for found in schema.get_all_operations()]


def test_no_generated_request_makes_the_tool_fail(app, client):
    described = operations(app)
    assert len(described) > 40, "the whole studio is in its description"
    for operation in described:

        @settings(max_examples=8, deadline=None, derandomize=True, suppress_health_check=QUIET, phases=[Phase.generate])
        @given(case=operation.as_strategy())
        def send(case):
            answer = case.call(session=client, base_url="http://127.0.0.1/demo")
            assert answer.status_code < 500, f"{case.method} {case.formatted_path}"

        send()


def forms(client):
    """Return action and field names of every form on the demo's pages that are reached from its first page."""
    found = {}
    for path in ("", "shelf", "shelf/swatches", "shelf/settings", "shelf/dyes/new", "shelf/bases/new", "shelf/pots/new",
                 "plan", "water", "colours", "colours/new", "lots", "runs", "judge"):  # fmt: skip
        found |= forms_of(client.get(f"/demo/{path}").text)
    run = re.search(r"/demo/runs/[0-9a-f-]{36}", client.get("/demo/runs").text)[0]
    for page in (run, f"{run}/pot", f"{run}/judge"):
        found |= forms_of(client.get(page).text)
    return found


def forms_of(html):
    found = {}
    for attributes, body in re.findall(r"<form([^>]*)>(.*?)</form>", html, re.DOTALL):
        action = re.search(r'action="([^"]+)"', attributes)
        method = re.search(r'method="(\w+)"', attributes)
        names = sorted(set(re.findall(r'<(?:input|select|textarea|button)[^>]* name="([^"]+)"', body)))
        if action and names:
            found[unescape(action[1]), method[1].lower() if method else "get"] = names
    return found


def try_out(client, action, method, names):
    some_awkward = st.dictionaries(st.sampled_from(names), st.sampled_from(AWKWARD) | st.text(max_size=20))

    @settings(max_examples=10, deadline=None, derandomize=True, suppress_health_check=QUIET, phases=[Phase.generate])
    @given(typed=some_awkward)
    def send(typed):
        sent = {"data": typed} if method == "post" else {"params": typed}
        answer = client.request(method, action, **sent)
        assert answer.status_code < 500, f"{method} {action} {typed}"

    send()


def test_no_field_of_any_form_makes_the_tool_fail(client):
    known = forms(client)
    assert len(known) >= 10, "the forms of plan, water, colours, lots, shelf, judge and a run"
    for (action, method), names in known.items():
        try_out(client, action, method, names)


@pytest.mark.parametrize("number", [0, -1, 2**63, 10**30])
@pytest.mark.parametrize(
    "path", ["colours/{}", "shelf/dyes/{}", "shelf/bases/{}", "runs?below={}", "plan?colourway={}"]
)
def test_a_number_that_no_record_has_is_not_found(client, path, number):
    assert client.get(f"/demo/{path.format(number)}").status_code in {200, 404, 422}


@pytest.mark.parametrize(("field", "text"), [("yarn.skeins", "nan"), ("yarn.skeins", "inf"), ("water.ph", "nan")])
def test_what_is_no_number_is_no_amount_either(client, field, text):
    four = {
        "yarn.dry": "250 g",
        "dye.1.depth": "0.8 %",
        "assistant.1.kind": "white vinegar 5 %",
        "pot.1.volume": "12 L",
    }
    answer = client.post("/demo/plan", data=four | {field: text})
    assert answer.status_code == 422
    assert f'value="{text}"' in answer.text


def test_a_form_without_its_hidden_fields_is_answered_with_the_page(client):
    run = re.search(r"/demo/runs/[0-9a-f-]{36}", client.get("/demo/runs").text)[0]
    for form in ("late", "keep", "repeat", "undo"):
        assert client.post(f"{run}/{form}", data={"kind": "temperature"}).status_code < 500
