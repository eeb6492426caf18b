"""Whatever a queue does to its batches, repeats, shuffles, undoes: the record holds each event once and loses none."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from uuid import UUID, uuid4

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from studio_cards import CHOIR, plan_run

from dyewright.core.model import Event, EventKind, Outcome
from dyewright.core.progress import progress
from dyewright.records import runs
from dyewright.services import running, studios

NOW = datetime(2026, 10, 3, 14, 0, tzinfo=UTC)
OWN = {EventKind.PLANNED, EventKind.FORETOLD}  # what the studio records of a plan: itself and its forecast
DETAILS = st.one_of(
    st.builds(lambda c: ("temperature", {"bath_c": c}), st.floats(-50, 200)),
    st.builds(lambda e: ("clarity", {"exhaustion": e}), st.floats(-0.5, 1.5)),
    st.builds(lambda text: ("note", {"text": text}), st.text(max_size=40)),
    st.builds(lambda step: ("step done", {"step": step}), st.sampled_from(["soak", "enter", "hold-1", "no such step"])),
    st.just(("started", {})),
)


class Queue(RuleBasedStateMachine):
    """A pot's queue on one run, beside a plain list of what the studio said that it has."""

    @initialize()
    def begin(self):
        self.folder = TemporaryDirectory()
        self.records = studios.begin_studio(str(Path(self.folder.name)), name="Boathouse")
        with self.records.begin() as session:
            self.run_id = plan_run(session, card_toml=CHOIR, now=NOW).id
        self.sent: dict[str, dict] = {}
        self.had: list[str] = []
        self.undone: set[str] = set()

    @rule(event=DETAILS, minutes=st.integers(-5000, 10))
    def send(self, event, minutes):
        kind, detail = event
        key = str(uuid4())
        happened_at = (NOW + timedelta(minutes=minutes)).isoformat()
        self.sent[key] = {"id": key, "kind": kind, "happened_at": happened_at, "detail": detail}
        self.post([self.sent[key]])

    @rule(data=st.data())
    def send_again(self, data):
        if self.sent:
            keys = data.draw(st.lists(st.sampled_from(sorted(self.sent)), max_size=5))
            self.post([self.sent[key] for key in keys])

    @rule(data=st.data())
    def undo(self, data):
        if self.had:
            wrong, key = data.draw(st.sampled_from(self.had)), str(uuid4())
            happened_at = NOW.isoformat()
            self.sent[key] = {"id": key, "kind": "correction", "happened_at": happened_at, "corrects": wrong}
            self.post([self.sent[key]])

    def post(self, batch):
        with self.records.begin() as session:
            receipts = running.record_events(session, self.run_id, batch, now=NOW)
        for receipt, event in zip(receipts, batch, strict=True):
            if receipt.outcome is Outcome.RECORDED:
                assert receipt.id not in self.had
                self.had.append(receipt.id)
                if event["kind"] == "correction":
                    assert event["corrects"] not in self.undone
                    self.undone.add(event["corrects"])
            elif receipt.outcome is Outcome.ALREADY_HAD:
                assert receipt.id in self.had
            else:
                assert receipt.sentence
                assert receipt.id not in self.had

    @invariant()
    def each_event_is_kept_once(self):
        with self.records.read() as session:
            run = runs.run(session, self.run_id)
        kept = [event for event in run.events if event.kind not in OWN]
        assert sorted(str(event.id) for event in kept) == sorted(self.had)
        seen = progress(run.sheet, run.events, now=NOW)
        assert not {str(event.id) for event in seen.standing} & self.undone
        assert len(seen.standing) == len(OWN) + len(self.had) - 2 * len(self.undone)

    def teardown(self):
        if hasattr(self, "records"):
            self.records.close()
            self.folder.cleanup()


Queue.TestCase.settings = settings(
    max_examples=8, stateful_step_count=12, deadline=None, suppress_health_check=list(HealthCheck)
)
TestQueue = Queue.TestCase


@given(st.permutations([0, 10, 20, 30]), st.integers(0, 3))
@settings(max_examples=30, deadline=None)
def test_how_a_run_stands_does_not_depend_on_the_order_in_which_events_came(order, undone):
    keys = ["soak", "enter", "ramp", "hold"]
    steps = [
        {"key": key, "kind": "enter" if key == "enter" else "", "title": key, "text": "", "at_min": None}
        for key in keys
    ]
    events = [
        Event(UUID(int=i), UUID(int=99), EventKind.STEP_DONE, NOW + timedelta(minutes=10 * i), NOW, {"step": key})
        for i, key in enumerate(keys)
    ]
    events.append(Event(UUID(int=50), UUID(int=99), EventKind.CORRECTION, NOW, NOW, {}, UUID(int=undone)))
    shuffled = [events[-1], *(events[minutes // 10] for minutes in order)]
    later = NOW + timedelta(hours=1)
    assert progress({"steps": steps}, shuffled, now=later) == progress({"steps": steps}, events, now=later)
