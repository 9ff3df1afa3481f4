"""One question asked of many houses or scenarios, across cores, resumed where it was stopped."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache, partial
from importlib.util import find_spec
from pathlib import Path
from typing import TypeVar

from ventplan import __version__
from ventplan.advice.intervals import Quantity, interval
from ventplan.advice.placement import place
from ventplan.advice.survey_files import Cell, Journal, check_output, content_hash, house_files, journal_of, write_table
from ventplan.airing.age import purging_air_change_rates_per_h
from ventplan.airing.hazards import find_hazards
from ventplan.errors import InputError, VentplanError, unknown_name
from ventplan.house import read_house
from ventplan.house.records import House, Scenario
from ventplan.network import Flow, solve
from ventplan.text import printable


@dataclass(frozen=True)
class SurveyQuestion:
    """What is asked of every house.

    Attributes
    ----------
    scenarios
        Names of scenarios; empty for every scenario of each house.
    target, room, whole_house
        What to place fans for, at most one; no placing where none is given.
    draws
        Draws for the 90 % interval of the air from outdoors; 0 for no interval.
    """

    scenarios: tuple[str, ...] = ()
    target: str | None = None
    room: str | None = None
    whole_house: bool = False
    draws: int = 0

    def __post_init__(self) -> None:
        if sum((self.target is not None, self.room is not None, self.whole_house)) > 1:
            raise InputError("say at most one aim: a target opening, a room, or the whole house")

    @property
    def has_aim(self) -> bool:
        """True where fans are to be placed."""
        return self.whole_house or self.target is not None or self.room is not None


def survey_row(house: House, scenario: Scenario, question: SurveyQuestion) -> dict[str, Cell]:
    """Everything that the question asks of one house in one state.

    Parameters
    ----------
    house, scenario
        The house and its state.
    question
        What is asked.

    Returns
    -------
    dict
        By name of the column; columns without an answer are left out.

    Raises
    ------
    VentplanError
        Where the house has no answer, or not what the aim names.
    """
    flow = solve(house, scenario)
    row = {**_of_state(house, scenario), **_of_flow(house, scenario, flow)}
    if question.draws > 0:
        air = interval(house, scenario, [Quantity("air from outdoors")], draws=question.draws).intervals[0]
        row |= {"outdoor_air_low_m3_s": air.low, "outdoor_air_high_m3_s": air.high}
    if question.has_aim:
        row |= _of_plan(house, scenario, question)
    return row


def _of_state(house: House, scenario: Scenario) -> dict[str, Cell]:
    outdoors = scenario.outdoors
    return {
        "house": house.name,
        "scenario": scenario.name,
        "rooms": float(len(house.rooms)),
        "volume_m3": sum(room.volume_m3 for room in house.rooms.values()),
        "outdoor_temperature_c": outdoors.temperature_c,
        "wind_m_s": outdoors.wind.speed_m_s,
        "wind_from_deg": outdoors.wind.from_deg,
    }


def _of_flow(house: House, scenario: Scenario, flow: Flow) -> dict[str, Cell]:
    outdoor = sum(room.outdoor_m3_s for room in flow.rooms.values())
    effective = purging_air_change_rates_per_h(house, scenario, flow)
    worst = min(effective, key=lambda name: effective[name])
    blades = sum(fan.blades_m3_s for fan in flow.fans)
    return {
        "outdoor_air_m3_s": outdoor,
        "outdoor_air_change_per_h": 3600.0 * outdoor / sum(room.volume_m3 for room in house.rooms.values()),
        "worst_room": worst,
        "worst_effective_air_change_per_h": effective[worst],
        "isolated_rooms": "; ".join(flow.isolated_rooms),
        "fans": "; ".join(f"{fan.name} at {fan.opening}" for fan in flow.fans),
        "fan_ratio": sum(fan.driven_m3_s for fan in flow.fans) / blades if blades > 0.0 else None,
        "cautions": _cautions(house, scenario, flow),
    }


def _cautions(house: House, scenario: Scenario, flow: Flow) -> str:
    return "; ".join(dict.fromkeys(hazard.code.value for hazard in find_hazards(house, scenario, flow)))


def _of_plan(house: House, scenario: Scenario, question: SurveyQuestion) -> dict[str, Cell]:
    answer = place(
        house, scenario, target=question.target, room=question.room, whole_house=question.whole_house, count=1
    )
    plan = answer.plans[0]
    return {
        "aim": f"{answer.objective.kind} {answer.objective.name}".strip(),
        "aim_before": answer.before,
        "aim_planned": plan.value,
        "plan_fans": "; ".join(p.fan for p in plan.placements),
        "plan_openings": "; ".join(p.opening for p in plan.placements),
        "plan_stands_in": "; ".join(p.stands_in for p in plan.placements),
        "plan_setbacks_m": "; ".join("sealed" if p.sealed else f"{p.setback_m:.2f}" for p in plan.placements),
        "plan_opens": "; ".join(plan.opens),
        "plan_shuts": "; ".join(plan.shuts),
        "plan_cautions": _cautions(house, plan.scenario, plan.flow),
    }


Task = TypeVar("Task")
Done = TypeVar("Done")
Progress = Callable[[int, int], None]
Outcome = tuple[dict[str, Cell], bool]
"""A row, and whether asking again would give the same."""
BETWEEN_ERRORS = " | "
"""Stands between the errors of one house in its cell."""


@dataclass(frozen=True)
class SurveyAnswer:
    """What a survey did.

    Attributes
    ----------
    rows
        Every row, in the order of the houses and their scenarios.
    computed, kept
        How many rows are new, and how many the journal had already.
    """

    rows: tuple[dict[str, Cell], ...]
    computed: int
    kept: int

    @property
    def errors(self) -> tuple[dict[str, Cell], ...]:
        """Rows that have an error in place of an answer."""
        return tuple(row for row in self.rows if row.get("error"))


@dataclass(frozen=True)
class _Case:
    """One row to compute: the present text of a house file, and one of its scenarios."""

    path: Path
    content: str
    scenario: str

    @property
    def key(self) -> str:
        return f"{self.content} row {self.scenario}"


def survey(
    houses: Iterable[str | Path],
    question: SurveyQuestion | None = None,
    *,
    output: str | Path,
    jobs: int | None = None,
    replace: bool = False,
    progress: Progress | None = None,
) -> SurveyAnswer:
    """Ask many houses the same question, and write the answers as a table.

    Parameters
    ----------
    houses
        House files, or folders of them.
    question
        What to ask; the flows of every scenario if left out.
    output
        The table, ``.csv`` or ``.parquet``. Beside it stands its journal, with the name and ``.journal``.
    jobs
        How many to work on at once, -1 for all cores; left out, what a surrounding ``joblib.parallel_config`` says,
        else one.
    replace
        True where an older file that is not this survey's table may be written over.
    progress
        Called with rows done and rows to do.

    Returns
    -------
    SurveyAnswer
        Rows, and how many of them were there already.

    Raises
    ------
    InputError
        Where there are no house files, the table cannot be written, `jobs` is no number of jobs, or several are to
        work at once without joblib.

    Notes
    -----
    A house with an error, or without an answer, becomes a row that says so. A row counts as done while the bytes of
    its house file, of the tables that the file names, the question and the version of ventplan are the same.
    """
    asked, table = question or SurveyQuestion(), Path(output)
    files = house_files(houses)
    check_output(table, replace=replace)
    if jobs is not None and jobs != -1 and jobs < 1:
        raise InputError(f"{jobs} jobs at once; allowed: 1 or more, or -1 for all cores")
    if jobs not in (None, 1) and find_spec("joblib") is None:
        raise InputError("working on several at once needs joblib: pip install 'ventplan[survey]'; or ask for one job")
    journal = Journal(journal_of(table))
    said = repr(sorted((name, value) for name, value in asdict(asked).items() if name != "scenarios"))
    contents = {path: content_hash(path, __version__, said) for path in files}
    with journal:
        unread = [path for path in files if _list_key(contents[path]) not in journal.done]
        for path, names, error in _each(_scenario_names, unread, jobs):
            journal.add(_list_key(contents[path]), {"scenarios": names, "error": error})
        listed = {path: journal.done[_list_key(contents[path])] for path in files}
        cases = [
            _Case(path, contents[path], name)
            for path in files
            for name in (asked.scenarios or listed[path]["scenarios"] if not listed[path]["error"] else ())
        ]
        to_do = [case for case in dict.fromkeys(cases) if case.key not in journal.done]
        passing = _solve_all(to_do, asked, journal, jobs, progress)
    rows: list[dict[str, Cell]] = []
    for path in files:
        if listed[path]["error"]:
            rows.append({"file": str(path), "error": listed[path]["error"]})
        rows += [
            {"file": str(path), **(passing[case] if case in passing else journal.done[case.key])}
            for case in cases
            if case.path == path
        ]
    write_table(rows, table)
    computed = len(to_do) + sum(bool(listed[path]["error"]) for path in unread)
    return SurveyAnswer(tuple(rows), computed=computed, kept=len(rows) - computed)


def _list_key(content: str) -> str:
    return f"{content} scenarios"


def _solve_all(
    cases: Sequence[_Case], question: SurveyQuestion, journal: Journal, jobs: int | None, progress: Progress | None
) -> dict[_Case, dict[str, Cell]]:
    """Work on cases and note each as it is done; gives those that are not noted, since they may yet go well."""
    passing = {}
    if progress is not None:
        progress(0, len(cases))
    for count, (case, (row, lasting)) in enumerate(_each(partial(_solved, question), cases, jobs), start=1):
        if lasting:
            journal.add(case.key, row)
        else:
            passing[case] = row
        if progress is not None:
            progress(count, len(cases))
    return passing


def _each(work: Callable[[Task], Done], tasks: Sequence[Task], jobs: int | None) -> Iterator[Done]:
    """Results as they are done, in any order."""
    if jobs == 1 or len(tasks) <= 1 or find_spec("joblib") is None:
        yield from map(work, tasks)
        return
    from joblib import Parallel, delayed

    yield from Parallel(n_jobs=jobs, return_as="generator_unordered")(delayed(work)(task) for task in tasks)


def _scenario_names(path: Path) -> tuple[Path, list[str], str]:
    try:
        return path, list(read_house(path).scenarios), ""
    except VentplanError as error:
        return path, [], _one_line(error)
    except Exception as error:  # one house that ventplan fails on must not cost the other rows
        return path, [], _bug(error)


def _bug(error: Exception) -> str:
    return printable(f"an error inside ventplan, {type(error).__name__}: {error}").replace("\n", " ")


def _one_line(error: VentplanError) -> str:
    return BETWEEN_ERRORS.join(str(error).splitlines())


@lru_cache(maxsize=4)
def _read(path: Path, content: str) -> House:
    """The house of the present file; ``content`` keeps an older reading from being taken for it."""
    return read_house(path)


def _solved(question: SurveyQuestion, case: _Case) -> tuple[_Case, Outcome]:
    row: dict[str, Cell] = {"scenario": case.scenario}
    try:
        house = _read(case.path, case.content)
        row["house"] = house.name
        if case.scenario not in house.scenarios:
            raise unknown_name("scenario", case.scenario, house.scenarios)
        return case, (survey_row(house, house.scenarios[case.scenario], question), True)
    except VentplanError as error:
        return case, ({**row, "error": _one_line(error)}, True)
    except Exception as error:
        # One house that ventplan fails on must not cost the other rows; it is asked again next time.
        return case, ({**row, "error": _bug(error)}, False)
