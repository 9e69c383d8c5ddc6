"""Whatever is done in whatever order, the ledger is what a list of dictionaries says it is."""

import shutil
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import make_url, select

from hotface_api.ledger.check import check_audit
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.correct import correct
from hotface_api.ledger.errors import ConflictError, ForbiddenError, StaleError, UnknownError
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.review import reply, review, withdraw
from hotface_api.ledger.states import TRANSITIONS
from hotface_api.ledger.submit import submit
from hotface_api.store.database import Database
from hotface_api.store.models import Value
from hotface_api.store.read import dated, table
from support.contributions import Clock, Club, one, perlite

PEOPLE = ("ann", "ben", "cleo", "dora")


class Ledgers(RuleBasedStateMachine):
    """A club at work, and beside it a plain model of what should be."""

    template = None
    reset = None
    values = Bundle("values")

    @initialize()
    def start(self):
        url = self.reset()
        self.database = Database(url)
        clock = Clock()
        self.club = Club(Ledger(self.database, clock=clock), clock, *self.template.actors)
        self.model = {}
        self.revision = 1
        self.served = {1: frozenset()}
        self.figure = 1000
        self.requests = {}

    def teardown(self):
        if hasattr(self, "database"):
            self.database.close()

    def fresh(self):
        self.figure += 1
        return f"{self.figure / 10:.1f}"

    @rule(target=values, who=st.sampled_from(PEOPLE), count=st.integers(1, 3))
    def submits(self, who, count):
        actor = getattr(self.club, who)
        figures = [self.fresh() for _ in range(count)]
        receipt = submit(self.club.ledger, actor, one(tuple(perlite(f) for f in figures)))
        for item, figure in zip(receipt.items, figures, strict=True):
            self.model[item.value] = {
                "state": "pending",
                "version": 1,
                "who": who,
                "figure": figure,
                "replaces": None,
            }
        return multiple(*(item.value for item in receipt.items))

    @rule(who=st.sampled_from(PEOPLE), value=values)
    def submits_the_same_again(self, who, value):
        held = self.model[value]
        live = [
            key
            for key, row in self.model.items()
            if row["who"] == who
            and row["figure"] == held["figure"]
            and row["state"] in ("pending", "asked", "accepted")
        ]
        receipt = None
        if live:
            receipt = submit(
                self.club.ledger, getattr(self.club, who), one(perlite(held["figure"]))
            )
            assert receipt.items[0].state == "held"
            assert receipt.items[0].value in live

    @rule(target=values, who=st.sampled_from(PEOPLE), key=st.sampled_from("abc"))
    def submits_with_a_key(self, who, key):
        known = self.requests.get((who, key))
        figure = known[0] if known else self.fresh()
        asked = Idempotency(key, figure)
        receipt = submit(
            self.club.ledger, getattr(self.club, who), one(perlite(figure)), idempotency=asked
        )
        assert receipt.replayed == (known is not None)
        if known:
            assert replace(receipt, replayed=False) == known[1]
            return multiple()
        self.requests[who, key] = (figure, receipt)
        value = receipt.items[0].value
        self.model[value] = {
            "state": "pending",
            "version": 1,
            "who": who,
            "figure": figure,
            "replaces": None,
        }
        return value

    @rule(
        who=st.sampled_from(PEOPLE),
        value=values,
        lag=st.integers(0, 1),
        decision=st.sampled_from(("accept", "decline", "ask")),
    )
    def reviews(self, who, value, lag, decision):
        row, actor = self.model[value], getattr(self.club, who)

        def act():
            return review(
                self.club.ledger,
                actor,
                value,
                decision,
                version=row["version"] - lag,
                note="a note",
            )

        if who in ("ann", "ben"):
            refused(ForbiddenError, act)
        elif lag:
            refused(StaleError, act)
        elif row["who"] == who:
            refused(ForbiddenError, act)
        elif (row["state"], decision) not in TRANSITIONS:
            refused(ConflictError, act)
        else:
            standing = act()
            self.moved(value, decision)
            if decision == "accept":
                self.accepted(value, standing)

    def accepted(self, value, standing):
        old = self.model[value]["replaces"]
        now = set(self.served[self.revision]) | {value}
        if old and self.model[old]["state"] == "accepted":
            self.moved(old, "replace")
            now.discard(old)
        self.revision += 1
        assert standing.revision == self.revision
        self.served[self.revision] = frozenset(now)

    def moved(self, value, act):
        row = self.model[value]
        row["state"] = TRANSITIONS[row["state"], act]
        row["version"] += 1

    @rule(who=st.sampled_from(PEOPLE), value=values)
    def replies(self, who, value):
        row, actor = self.model[value], getattr(self.club, who)

        def act():
            return reply(self.club.ledger, actor, value, "an answer", version=row["version"])

        if not self.sees(who, row):
            refused(UnknownError, act)
        elif row["who"] != who:
            refused(ForbiddenError, act)
        elif row["state"] != "asked":
            refused(ConflictError, act)
        else:
            act()
            self.moved(value, "reply")

    def sees(self, who, row):
        return who in ("cleo", "dora") or row["who"] == who or row.get("was_served", False)

    @rule(who=st.sampled_from(PEOPLE), value=values)
    def withdraws(self, who, value):
        row, actor = self.model[value], getattr(self.club, who)

        def act():
            return withdraw(self.club.ledger, actor, value, "a reason", version=row["version"])

        curates = who in ("cleo", "dora") and row["state"] == "accepted"
        if not self.sees(who, row):
            refused(UnknownError, act)
        elif row["who"] != who and not curates:
            refused(ForbiddenError, act)
        elif (row["state"], "withdraw") not in TRANSITIONS:
            refused(ConflictError, act)
        else:
            was = row["state"]
            standing = act()
            self.moved(value, "withdraw")
            if was == "accepted":
                self.revision += 1
                assert standing.revision == self.revision
                self.served[self.revision] = self.served[self.revision - 1] - {value}

    @rule(target=values, value=values)
    def corrects(self, value):
        row = self.model[value]
        actor, figure = getattr(self.club, row["who"]), self.fresh()

        def act():
            return correct(
                self.club.ledger, actor, value, perlite(figure), "a reason", version=row["version"]
            )

        old, before = value, row["replaces"]
        if before and not row.get("was_served") and self.model[before].get("was_served"):
            old = before
        waiting = any(
            other["replaces"] == old and other["state"] in ("pending", "asked")
            for key, other in self.model.items()
            if key != value
        )
        gone = old != value and self.model[old]["state"] == "replaced"
        if (row["state"], "correct") not in TRANSITIONS or waiting or gone:
            refused(ConflictError, act)
            return multiple()
        new = act().items[0].value
        self.moved(value, "correct")
        self.model[new] = {
            "state": "pending",
            "version": 1,
            "who": row["who"],
            "figure": figure,
            "replaces": old,
        }
        return new

    @rule(seconds=st.sampled_from([-3600, -1, 60, 86400]))
    def time_passes_or_not(self, seconds):
        self.club.clock.forward(seconds=seconds)

    @invariant()
    def rows_and_states_are_as_the_model_says(self):
        if not hasattr(self, "model"):
            return
        rows = table(Value)
        with self.database.read() as connection:
            held = {
                row["id"]: row
                for row in connection.execute(
                    select(rows).where(rows.c.contributor.is_not(None))
                ).mappings()
            }
            for revision in (self.revision, max(1, self.revision - 2)):
                served = connection.scalars(
                    select(rows.c.id).where(rows.c.contributor.is_not(None), dated(Value, revision))
                )
                assert frozenset(served) == self.served[revision]
        assert held.keys() == self.model.keys()
        for value, row in self.model.items():
            assert held[value]["version"] == row["version"]
            row["was_served"] = held[value]["from_revision"] is not None
        assert self.database.revision() == self.revision

    @invariant()
    def the_audit_is_intact(self):
        if hasattr(self, "club"):
            report = check_audit(self.club.ledger)
            assert report.intact, report.faults
            assert report.contributions == len(self.model)


def refused(kind, act):
    with pytest.raises(kind):
        act()


def machine(template, folder, emptied):
    def reset():
        if template.url.startswith("sqlite"):
            for old in folder.glob("machine.sqlite3*"):
                old.unlink()
            target = folder / "machine.sqlite3"
            shutil.copy(make_url(template.url).database, target)
            return f"sqlite:///{target}"
        emptied(template)
        return template.url

    return type("Machine", (Ledgers,), {"template": template, "reset": staticmethod(reset)})


def run(template, folder, emptied, examples, steps):
    run_state_machine_as_test(
        machine(template, folder, emptied),
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_any_order_of_acts(template, tmp_path, emptied_template):
    run(template, tmp_path, emptied_template, 6, 15)


@pytest.mark.long
def test_any_order_of_acts_long(template, tmp_path, emptied_template):
    run(template, tmp_path, emptied_template, 150, 50)
