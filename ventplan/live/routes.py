"""What the page can ask and do: each route takes a request's JSON, calls the library, and returns the answer's JSON."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from ventplan.errors import InputError, unknown_name
from ventplan.house import House
from ventplan.house.units import System
from ventplan.house.yaml_text import key_text
from ventplan.live import answers, over_time
from ventplan.live.page import page_of
from ventplan.live.scenario_edits import requested_scenario, with_scenario, with_state
from ventplan.live.session import Session, apply_changes
from ventplan.live.worker import Progress, Worker
from ventplan.network.flow import Flow

Body = dict[str, Any]
Work = Callable[[Progress, threading.Event], Body]
"""A long computation: takes a function to report progress to, and an event that is set when nobody waits any more."""

QUESTIONS = ("page", "solve", "picture", "curve", "compare", "readings", "report", "clearing")
STEPS = ("edit", "keep", "adopt", "undo", "redo", "save", "load", "draft")
LONG_QUESTIONS = ("place", "tonight")
"""Questions that report their progress and can be stopped."""


class Routes:
    """The routes of one house file.

    Parameters
    ----------
    session
        The house being edited.
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        self.searcher, self.helper = Worker(), Worker()
        self.last: Flow | None = None

    def house(self) -> House:
        """The house that the page shows: as much as could be read, or the last version that could."""
        if self.session.last_valid is None or self.session.last_valid.house is None:
            raise InputError(self.session.draft.errors or "there is no house in this file yet")
        return self.session.last_valid.house

    def current_house(self) -> House:
        """The house of the current text, for a step that changes it."""
        if self.session.draft.house is None:
            raise InputError(self.session.draft.errors or "there is no house in this file yet")
        return self.session.draft.house

    def shown(self, body: Body) -> System:
        """Units that the page asks for; those of the file if it names none."""
        good = self.session.last_valid
        own: System = good.house.show if good is not None and good.house is not None else "si"
        return "us" if body.get("units") == "us" else "si" if body.get("units") == "si" else own

    def close(self) -> None:
        """End the processes for long questions."""
        self.searcher.close()
        self.helper.close()

    def page(self, body: Body) -> Body:
        """Everything that the page shows of the house."""
        return page_of(self.session, self.shown(body))

    def solve(self, body: Body) -> Body:
        """Numbers of a state."""
        house = self.house()
        self.last, found = answers.solved(house, requested_scenario(house, body), self.shown(body), body, self.last)
        return found

    def picture(self, body: Body) -> Body:
        """Numbers, air paths and cautions of a state."""
        return answers.pictured(self.house(), requested_scenario(self.house(), body), self.shown(body), body)

    def curve(self, body: Body) -> Body:
        """The setback curve of a fan."""
        return self._helped(answers.curve, body, str(body["fan"]))

    def compare(self, body: Body) -> Body:
        """This state beside another scenario."""
        other = requested_scenario(self.house(), {"scenario": body["other"]})
        return self._helped(answers.side_by_side, body, other, str(body.get("tint")))

    def report(self, body: Body) -> Body:
        """The report about a state."""
        return self._helped(answers.report, body)

    def clearing(self, body: Body) -> Body:
        """How smoke in one room clears."""
        return self._helped(over_time.clearing, body, str(body["room"]))

    def _helped(self, call: Callable[..., Body], body: Body, *more: Any) -> Body:
        """Ask the second process, so that dragging stays quick meanwhile."""
        house = self.house()
        found: Body = self.helper.ask(call, (house, requested_scenario(house, body), *more, self.shown(body)))
        return found

    def readings(self, body: Body) -> Body:
        """Readings beside the model."""
        house = self.house()
        return answers.compare_readings(house, requested_scenario(house, body), body["readings"], self.shown(body))

    def place(self, body: Body) -> Work:
        """Search for a better place."""
        return self._searched(answers.better_place, body, ("aim", "name", "fan", "count"))

    def tonight(self, body: Body) -> Work:
        """Plan the night."""
        return self._searched(over_time.tonight, body, over_time.TONIGHT_FIELDS)

    def _searched(self, call: Callable[..., Body], body: Body, keys: tuple[str, ...]) -> Work:
        house = self.house()
        arguments = (
            house,
            requested_scenario(house, body),
            {k: str(body.get(k) or "") for k in keys},
            self.shown(body),
        )

        def work(progress: Progress, stop: threading.Event) -> Body:
            found: Body = self.searcher.ask(call, arguments, progress=progress, stop=stop)
            return found

        return work

    def edit(self, body: Body) -> Body:
        """Change the house."""
        changes = body["changes"]
        keys = [key_text(tuple(c["path"])[:2]) for c in changes]
        return self._changed(body, keys, lambda text: apply_changes(text, changes))

    def keep(self, body: Body) -> Body:
        """Write the current state into its scenario."""
        house = self.current_house()
        if body["scenario"] not in house.scenarios:
            raise unknown_name("scenario", str(body["scenario"]), house.scenarios)
        after = requested_scenario(house, body)
        key = key_text(("scenarios", after.name))
        return self._changed(body, [key], lambda text: with_state(text, house, after))

    def adopt(self, body: Body) -> Body:
        """Put a state into a new scenario."""
        house = self.current_house()
        plan = replace(requested_scenario(house, body), name=str(body["name"]).strip())
        key = key_text(("scenarios", plan.name))
        return self._changed(body, [key], lambda text: with_scenario(text, house, body["scenario"], plan))

    def _changed(self, body: Body, keys: list[str], make: Callable[[str], str]) -> Body:
        what, repair = str(body["what"]), str(body.get("repair", ""))
        return self._step(body, what, lambda: self.session.change(what, keys, make, repair=repair))

    def _step(self, body: Body, what: str, do: Callable[[], None]) -> Body:
        """Do one step for a page that has seen the last one, and return the page after it."""
        with self.session.lock:
            self.session.check_revision(body["revision"], what)
            do()
        return self.page(body)

    def undo(self, body: Body) -> Body:
        """Undo a step."""
        return self._step(body, "undo", lambda: self.session.step(True))

    def redo(self, body: Body) -> Body:
        """Redo a step."""
        return self._step(body, "redo", lambda: self.session.step(False))

    def save(self, body: Body) -> Body:
        """Write the current text to the file."""
        return self._step(body, "save", lambda: self.session.save(over=body.get("over")))

    def load(self, body: Body) -> Body:
        """Read the file again."""
        with self.session.lock:
            self.session.load()
        return self.page(body)

    def draft(self, body: Body) -> Body:
        """Take a text that the browser kept."""
        what, text = "bring back unsaved work", str(body["text"])
        return self._step(body, what, lambda: self.session.set_text(what, text))
