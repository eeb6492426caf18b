"""The pot screen as a phone uses it: batches from its queue, single taps without script, photos."""

import io
import json
import re
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from PIL import Image

from dyewright.core.model import Doubt
from dyewright.photo.load import load_photo
from dyewright.services import photos
from dyewright.services.forecast_pages import view
from dyewright.services.forecasting.foretell import forecast_from

HEAT_ON = "2026-11-20T10:00:00+00:00"


@pytest.fixture
def run(fresh):
    """The address of the demo's planned run."""
    return re.search(r'href="(/demo/runs/[0-9a-f-]{36})"', fresh.get("/demo/").text.split("Planned")[1])[1]


def event(kind, detail=None, **more):
    return {"id": str(uuid4()), "kind": kind, "happened_at": HEAT_ON, "detail": detail or {}} | more


def state(client, run):
    page = client.get(f"{run}/pot").text
    return json.loads(re.search(r'id="pot-state">(.*?)</script>', page, re.DOTALL)[1])


def test_a_batch_sent_twice_is_recorded_once(fresh, run):
    batch = {"events": [event("temperature", {"bath_c": 62}), event("clarity", {"exhaustion": 0.5})]}
    first, again = (fresh.post(f"{run}/events", json=batch).json()["results"] for _ in range(2))
    assert [receipt["outcome"] for receipt in first] == ["recorded", "recorded"]
    assert [receipt["outcome"] for receipt in again] == ["already had", "already had"]
    assert [known["kind"] for known in state(fresh, run)["events"]].count("temperature") == 1


def test_what_cannot_be_is_refused_with_a_sentence_and_holds_up_nothing_else(fresh, run):
    batch = [event("temperature", {"bath_c": 620}), event("note", {"text": "smells of sheep"}), event("juggling")]
    results = fresh.post(f"{run}/events", json={"events": batch}).json()["results"]
    assert [receipt["outcome"] for receipt in results] == ["refused", "recorded", "refused"]
    assert "620" in results[0]["sentence"]
    assert "smells of sheep" in fresh.get(f"{run}/pot").text


def test_taps_work_without_script(fresh, run):
    typed = {"kind": "temperature", "id": str(uuid4()), "value": "88,5"}
    assert fresh.post(f"{run}/observe", data=typed).url.path == f"{run}/pot"
    assert state(fresh, run)["events"][-1]["detail"] == {"bath_c": 88.5}


def test_next_marks_the_current_step_and_undo_takes_it_back(fresh, run):
    before = fresh.get(f"{run}/pot").text
    first_step = re.search(r'id="step-title">(.*?)<', before)[1]
    done = str(uuid4())
    after = fresh.post(f"{run}/observe", data={"kind": "next", "id": done}).text
    assert re.search(r'id="step-title">(.*?)<', after)[1] != first_step
    undone = fresh.post(f"{run}/observe", data={"kind": "undo", "id": str(uuid4()), "corrects": done}).text
    assert re.search(r'id="step-title">(.*?)<', undone)[1] == first_step


def test_a_photo_is_kept_once_and_a_text_file_is_refused_by_name(fresh, run):
    picture = io.BytesIO()
    Image.new("RGB", (320, 240), (40, 90, 95)).save(picture, "JPEG")
    sent = {"id": str(uuid4()), "happened_at": HEAT_ON}
    wants = {"accept": "application/json"}
    for outcome in ("recorded", "already had"):
        files = {"photo": ("bath.jpg", picture.getvalue(), "image/jpeg")}
        answer = fresh.post(f"{run}/events/photo", data=sent, files=files, headers=wants)
        assert answer.json()["results"][0]["outcome"] == outcome
    answer = fresh.post(
        f"{run}/events/photo",
        data={**sent, "id": str(uuid4())},
        files={"photo": ("n.txt", b"not a photo")},
        headers=wants,
    )
    assert answer.json()["results"][0]["outcome"] == "refused"
    assert answer.json()["results"][0]["sentence"]


def test_a_refused_photo_gets_its_sentence_without_script_too(fresh, run):
    before = state(fresh, run)["events"]
    files = {"photo": ("letter.txt", b"Dear customer", "text/plain")}
    answer = fresh.post(f"{run}/events/photo", data={"id": str(uuid4())}, files=files)
    assert answer.status_code == 422
    assert "letter.txt is not a picture" in answer.text
    assert state(fresh, run)["events"] == before


def test_a_photo_whose_event_is_refused_is_not_kept_either(fresh, run):
    picture = io.BytesIO()
    Image.new("RGB", (320, 240), (40, 90, 95)).save(picture, "JPEG")
    sent = {"id": str(uuid4()), "happened_at": "the day before yesterday"}
    files = {"photo": ("bath.jpg", picture.getvalue(), "image/jpeg")}
    answer = fresh.post(f"{run}/events/photo", data=sent, files=files, headers={"accept": "application/json"})
    assert answer.json()["results"][0]["outcome"] == "refused"
    assert fresh.get(f"/demo/photos/{sent['id']}.jpg").status_code == 404


@pytest.mark.parametrize("where", ["{run}/events/photo", "{run}/photo", "{run}/judge"])
def test_others_can_write_while_a_photo_is_looked_at(fresh, run, where, tmp_path, monkeypatch):
    tried = []

    def look(content, **named):
        with closing(sqlite3.connect(tmp_path / "demo.sqlite", timeout=0, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")  # raises where another connection holds the write lock
            tried.append(other.execute("ROLLBACK"))
        return load_photo(content, **named)

    monkeypatch.setattr(photos, "load_photo", look)
    picture = io.BytesIO()
    Image.new("RGB", (320, 240), (40, 90, 95)).save(picture, "JPEG")
    files = {"photo": ("bath.jpg", picture.getvalue(), "image/jpeg")}
    assert fresh.post(where.format(run=run), data={"id": str(uuid4())}, files=files).status_code == 200
    assert tried


def test_an_unknown_run_is_not_found(fresh):
    fresh.get("/demo/")
    assert fresh.get(f"/demo/runs/{uuid4()}/pot").status_code == 404
    assert fresh.post(f"/demo/runs/{uuid4()}/events", json={"events": []}).status_code == 404


def test_the_ladder_is_drawn_in_colours_that_grow_lighter(fresh, run):
    fresh.post(f"{run}/events", json={"events": [event("started")]})
    glasses = re.findall(r'class="glass" style="background: #([0-9a-f]{6})"', fresh.get(f"{run}/pot").text)
    sums = [sum(bytes.fromhex(code)) for code in glasses]
    assert len(sums) == 6
    assert sums == sorted(sums)
    assert len(set(sums)) == 6


def offered(client, run):
    return re.search(r'name="kind" value="addition">.*?name="value" value="(.*?)"', client.get(f"{run}/pot").text)[1]


def test_the_acid_button_names_an_amount_only_while_that_addition_is_due(fresh, run):
    assert re.fullmatch(r"[a-z ]+5 %, [\d.]+\u202fmL", offered(fresh, run))
    fresh.post(f"{run}/events", json={"events": [event("step done", {"step": "add-start"})]})
    assert re.fullmatch(r"[a-z ]+5 %", offered(fresh, run))


def test_a_temperature_may_be_read_in_fahrenheit(fresh, run):
    fresh.post(f"{run}/observe", data={"kind": "temperature", "id": str(uuid4()), "value": "190 F"})
    # By hand: (190 - 32) × 5 / 9 = 87.78
    assert state(fresh, run)["events"][-1]["detail"]["bath_c"] == pytest.approx(87.78, abs=0.01)


def taps(client, run, kind, value, **more):
    return client.post(f"{run}/observe", data={"id": str(uuid4()), "kind": kind, "value": value, **more})


def offers(page):
    """What each button of a question sends."""
    forms = re.findall(r'name="kind" value="(\w+)"><input type="hidden" name="value" value="(.*?)">', page)
    return [(kind, value) for kind, value in forms if kind in {"temperature", "ph", "rinsed", "note"}]


def test_a_temperature_beyond_a_pot_is_asked_about_and_not_lost(fresh, run):
    before = state(fresh, run)["events"]
    asked = taps(fresh, run, "temperature", "300")
    assert asked.status_code == 422
    assert "300\u202f°C is beyond a pot" in asked.text
    assert offers(asked.text) == [("temperature", "30"), ("note", "300\u202f°C")]
    assert state(fresh, run)["events"] == before

    assert taps(fresh, run, "note", "300\u202f°C").url.path == f"{run}/pot"
    assert "300\u202f°C" in fresh.get(f"{run}/pot").text


def test_what_is_right_after_all_is_recorded_and_says_that_it_was_asked(fresh, run):
    assert "no dye would stay on the yarn" in taps(fresh, run, "ph", "12").text
    taps(fresh, run, "ph", "12", sure="1")
    assert state(fresh, run)["events"][-1]["detail"] == {"ph": 12.0, "is_sure": True}


def rinsing(client, run):
    """The keys of the rinsing steps, with everything before them done and the heat on."""
    steps = state(client, run)["steps"]
    first = next(place for place, step in enumerate(steps) if step["kind"] == "rinse")
    batch = [event("started"), *(event("step done", {"step": step["key"]}) for step in steps[:first])]
    client.post(f"{run}/events", json={"events": batch})
    return [step["key"] for step in steps if step["kind"] == "rinse"]


def done(client, run):
    return [known["detail"]["step"] for known in state(client, run)["events"] if known["kind"] == "step done"]


def test_waters_are_counted_only_once_the_yarn_is_rinsed(fresh, run):
    assert re.search(r'id="waters" hidden', fresh.get(f"{run}/pot").text)
    rinsing(fresh, run)
    page = fresh.get(f"{run}/pot").text
    assert not re.search(r'id="waters" hidden', page)
    assert re.search(r'id="ladder" hidden', page)
    assert re.search(r"Rinse 1( of about \d+)?: is its water clear in a white bowl\?", page)


def test_the_first_clear_water_is_recorded_with_its_number_and_ends_the_rinsing(fresh, run):
    keys = rinsing(fresh, run)
    taps(fresh, run, "colours", "1")
    assert "Rinse 2" in fresh.get(f"{run}/pot").text
    assert ("rinse-1" in done(fresh, run)) is (len(keys) > 1)
    answer = taps(fresh, run, "clear", "2")
    assert "Clear in rinse 2." in answer.text
    counted = [known["detail"] for known in state(fresh, run)["events"] if known["kind"] == "rinsed"]
    assert counted == [{"rinses": 2.0}]
    assert keys[-1] in done(fresh, run)


def test_a_water_sent_twice_is_counted_once(fresh, run):
    rinsing(fresh, run)
    sent = {"id": str(uuid4()), "kind": "colours", "value": "1"}
    for _ in range(2):
        fresh.post(f"{run}/observe", data=sent)
    assert "Rinse 2" in fresh.get(f"{run}/pot").text


@pytest.fixture
def doubting(monkeypatch):
    """A forecast that doubts the look at 20 minutes, whatever it is told."""

    def foretell(sheet, observed, **more):
        told = forecast_from(sheet, observed, **more)
        ways = ("dye was added", "a slip: take it back")
        return replace(told, doubts=(Doubt("clarity at 20 min", "Darker than before.", ways),))

    monkeypatch.setattr(view, "forecast_from", foretell)


def look(client, run):
    heat_on = datetime.now(UTC) - timedelta(minutes=30)
    seen = event("clarity", {"exhaustion": 0.5}, happened_at=(heat_on + timedelta(minutes=20)).isoformat())
    client.post(f"{run}/events", json={"events": [event("started", happened_at=heat_on.isoformat()), seen]})
    return seen["id"]


@pytest.mark.usefixtures("doubting")
@pytest.mark.parametrize("where", ["pot", "forecast"])
def test_a_doubt_is_a_question_with_its_entry_and_does_not_come_back_once_answered(fresh, run, where):
    entry = look(fresh, run)
    page = fresh.get(f"{run}/{where}").text
    assert "Darker than before." in page
    doubt = page.split('class="doubt"')[1].split("</section>")[0]
    assert re.findall(r"<button>(.*?)</button>", doubt) == [
        "A slip: take it back",
        "It is right as noted",
        "Dye was added",
    ]
    assert doubt.count(f'name="about" value="{entry}"') == 3

    answer = taps(fresh, run, "answer", "clarity at 20 min: it is right as noted", about=entry, back=where)
    assert answer.url.path == f"{run}/{where}"
    assert "Darker than before" not in answer.text
    assert "clarity at 20 min: it is right as noted" in fresh.get(run).text


@pytest.mark.usefixtures("doubting")
def test_dye_that_was_added_answers_a_doubt_too(fresh, run):
    entry = look(fresh, run)
    page = taps(fresh, run, "dye", "clarity at 20 min: dye was added", about=entry).text
    assert "Darker than before" not in page
    assert "added: dye" in page


def test_a_temperature_read_in_the_other_scale_is_put_right_at_its_own_minute(fresh, run):
    heat_on = datetime.now(UTC) - timedelta(minutes=30)
    read = event("temperature", {"bath_c": 140}, happened_at=(heat_on + timedelta(minutes=20)).isoformat())
    fresh.post(f"{run}/events", json={"events": [event("started", happened_at=heat_on.isoformat()), read]})
    page = fresh.get(f"{run}/pot").text
    # By hand: (140 - 32) / 1.8 = 60 °C, and 40 °C with 1 °C/min for 20 min is 60 °C.
    assert "It was 140 °F, 60" in page

    taps(fresh, run, "reread", "140 F", about=read["id"])
    standing = [known for known in state(fresh, run)["events"] if known["kind"] in {"temperature", "correction"}]
    assert [known["corrects"] for known in standing if known["kind"] == "correction"] == [read["id"]]
    again = next(known for known in standing if known["kind"] == "temperature" and known["id"] != read["id"])
    assert again["detail"] == {"bath_c": 60.0}
    assert datetime.fromisoformat(again["happened_at"]) == datetime.fromisoformat(read["happened_at"])
    assert "It was 140 °F" not in fresh.get(f"{run}/pot").text


def test_an_answer_about_a_reading_of_another_run_is_refused(fresh, run):
    answer = taps(fresh, run, "reread", "140 F", about=str(uuid4()))
    assert answer.status_code == 422
    assert "not in this run" in answer.text
