"""`shiftlore practise`: a made-up vehicle for the apprentice; every act is on disk before it is worked out."""

import datetime
import secrets
import sys
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from functools import partial
from itertools import count
from pathlib import Path
from queue import SimpleQueue
from typing import TYPE_CHECKING, cast

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.reports.wording import render_help, wrap_lines

if TYPE_CHECKING:
    from shiftlore.casebook import PracticeScore
    from shiftlore.knowledge import Knowledge
    from shiftlore.practising import JudgedAct, PlannerWork, Practice, Reaction, Round, Show, Wish, Workplace

FIRST_FILE = Path("practice.yaml")
HARDEST_LEVEL, DRAWN_SEEDS = 4, 1_000_000
HIGHEST_SEED = 2**53
STOPPED_BY_KEY = 130
LEVEL_HELP = "1 fluid and codes, 2 what a look and a road test show, 3 pressures and what is inside, 4 anything."
NO_TASK = -1
NOT_KEPT = "The score of this round could not be kept: "


@click.command("practise", short_help="Practise on a made-up vehicle, scored against the planner.")
@click.argument("path", metavar="[FILE]", required=False, type=common.A_PATH)
@click.option("--level", type=common.Whole(1, HARDEST_LEVEL), metavar="N", help=f"{LEVEL_HELP} [default: 1]")
@common.unit_option("unit_id", "Id of a unit sheet; one is drawn if it is left out.")
@click.option(
    "--area", metavar="AREA", help="Area of the hidden cause; drawn where your score is weak if it is left out.",
    shell_complete=common.complete_ids("areas"),
)  # fmt: skip
@click.option("--seed", type=common.Whole(0, HIGHEST_SEED), metavar="N", help="The same seed draws the same vehicle.")
@click.option("--published", is_flag=True, help="Take a published repair: what it presented stands there.")
@click.option("--repair", metavar="ID", help="Take this published repair.")
@click.option("--scores", "wants_scores", is_flag=True, help="Show the running score by area, and no vehicle.")
@common.plain_option
@common.knowledge_option
@common.shop_option
def practise_command(
    path: Path | None, level: int | None, unit_id: str | None, area: str | None, seed: int | None, published: bool,
    repair: str | None, wants_scores: bool,
    plain: bool, folder: Path | None, shop_path: Path | None,
) -> None:  # fmt: skip
    """Practise on a made-up vehicle with a hidden cause: ask its owner, choose checks and jobs, and pay for them.

    At the end you see what it was, what each choice cost and told, and what the planner would have done. All that you
    do is kept in FILE (practice.yaml by default): stop whenever you like, and the same command goes on.
    """
    from shiftlore.basics.holding import hold_file

    knowledge = common.load_trade(folder, shop_path)
    if wants_scores:
        _show_scores(knowledge)
        return
    place = path or _first_open(FIRST_FILE)
    common.refuse_unit(place, knowledge)
    common.require_place(place, "Give a file in a folder of your own.")
    asked = {"level": level, "unit": unit_id, "area": area, "seed": seed, "repair": repair}
    try:
        with hold_file(place):
            _Sitting(knowledge, place, plain, published or repair is not None).run(
                {key: value for key, value in asked.items() if value is not None}
            )
    except EOFError:
        pass
    except (click.Abort, KeyboardInterrupt):
        raise click.exceptions.Exit(STOPPED_BY_KEY) from None


def _first_open(path: Path) -> Path:
    """Give the first of the usual names whose round is not over, or that nothing has."""
    from shiftlore.practising import load_practice

    places = (path if number == 1 else path.with_stem(f"{path.stem}-{number}") for number in count(1))
    return next(it for it in places if (practice := load_practice(it)) is None or not practice.finished_on)


def _show_scores(knowledge: "Knowledge") -> None:
    from shiftlore.reports.practise_text import render_scores

    with shiftlore.open_casebook() as book:
        scores = book.practice_scores()
    click.echo(render_scores(scores, knowledge.areas, knowledge.currency, common.terminal_width()))


def _read_scores() -> "Mapping[str, PracticeScore]":
    """Read the scores so far; none where the casebook cannot be read."""
    try:
        with shiftlore.open_casebook() as book:
            return book.practice_scores()
    except ShiftloreError:
        return {}


class _Stopped(Exception):
    """The apprentice has left; what is worked out behind the prompt is wanted no more."""


class _Behind:
    """Works out behind the prompt what the end needs: the planner's own work, and each choice beside the planner's.

    Args:
        at_once: begin while the apprentice thinks; else only when it is asked for.
    """

    def __init__(self, current: "Round", at_once: bool):
        from shiftlore.practising import run_planner

        self._round, self._judging, self._is_over = current, 0, False
        self._tasks: list[tuple[Future[object], Callable[[], object]]] = []
        self._waiting: SimpleQueue[int] = SimpleQueue()
        self._beginning = threading.Lock()
        self._begun: set[int] = set()
        self._add(lambda: run_planner(current.exercise, self._go_on))
        self.take_in(current)
        if at_once:
            threading.Thread(target=self._work, daemon=True).start()

    def take_in(self, current: "Round") -> None:
        """Have each new choice judged."""
        from shiftlore.practising import judge_act, name_act

        for made in current.made[self._judging :]:
            self._add(partial(judge_act, current.exercise, made, name_act(current, made.act)))
        self._judging = len(current.made)

    def judged(self, place: int) -> "JudgedAct":
        """Give the judgement of one choice, from 0."""
        return cast("JudgedAct", self._give(place + 1))

    def finish(self, tell: Callable[[float], None]) -> "tuple[list[JudgedAct], PlannerWork]":
        """Give the judgement of every choice, and the planner's work."""
        found = []
        for place in reversed(range(self._judging + 1)):
            found.append(self._give(place))
            tell(len(found) / (self._judging + 1))
        return cast("list[JudgedAct]", found[-2::-1]), cast("PlannerWork", found[-1])

    def stop(self) -> None:
        """Begin nothing more, and leave what is begun."""
        self._is_over = True
        self._waiting.put(NO_TASK)

    def _go_on(self, steps: int) -> None:
        if self._is_over:
            raise _Stopped

    def _add(self, task: Callable[[], object]) -> None:
        self._tasks.append((Future(), task))
        self._waiting.put(len(self._tasks) - 1)

    def _give(self, place: int) -> object:
        """Give what a task gives: wait for it where it is begun, else do it here."""
        self._do(place)
        return self._tasks[place][0].result()

    def _do(self, place: int) -> None:
        """Do a task, unless it is begun."""
        with self._beginning:
            is_begun = place in self._begun
            self._begun.add(place)
        if not is_begun:
            result, task = self._tasks[place]
            try:
                result.set_result(task())
            except (ShiftloreError, _Stopped) as error:
                result.set_exception(error)

    def _work(self) -> None:
        """Do the tasks in their order until there is no need for more."""
        while (place := self._waiting.get()) != NO_TASK and not self._is_over:
            self._do(place)


class _Sitting:
    """Shows a round, reads lines, saves each act before it is worked out."""

    def __init__(self, knowledge: "Knowledge", path: Path, plain: bool, published: bool):
        self.knowledge, self.path, self.published = knowledge, path, published
        self.strong = common.strong_mark(plain)
        self.currency = knowledge.currency
        self.practice: Practice | None = None
        self.behind: _Behind | None = None

    @property
    def width(self) -> int:
        """Give the line length as the window is now."""
        return common.terminal_width()

    def run(self, asked: Mapping[str, object]) -> None:
        """Begin a round or go on with one, until it is over or left.

        Args:
            asked: what was asked for by options: `level`, `unit`, `area`, `seed`.
        """
        from shiftlore.practising import Workplace, load_practice, make_exercise, make_ready, resume

        practice = load_practice(self.path)
        if practice is None:
            common.say(f"A new round; it is kept in {self.path}. Type h for help.")
            practice = self._begin(asked)
        else:
            self._refuse_other(asked, practice.wish)
            over = f"The round in {self.path} is over. Another file begins a new one: shiftlore practise FILE"
            common.say(over if practice.finished_on else f"Going on with {self.path}.")
        with common.busy("Setting the vehicle up"):
            exercise = make_exercise(self.knowledge, practice.wish)
            current = resume(exercise, practice)
            make_ready(current)
        self.practice = practice
        if not practice.mark:
            self._save(current, exercise.mark)
        self.behind = _Behind(current, at_once=sys.stdin.isatty())
        self._show_start(current)
        try:
            bench = Workplace(current)
            while not bench.round.outcome:
                turn = self._take(bench, common.read_line())
                if turn is None:
                    return
                self.behind.take_in(turn.round)
                bench = turn
            self._end(bench.round)
        finally:
            self.behind.stop()
            self._say_stopped()

    def _begin(self, asked: Mapping[str, object]) -> "Practice":
        """Make the wish for a new vehicle: what was not asked for is drawn, the area where the score is weak."""
        from shiftlore.practising import Practice, Wish, choose_area, choose_unit

        level, seed = int(str(asked.get("level", 1))), int(str(asked.get("seed", secrets.randbelow(DRAWN_SEEDS))))
        area = str(asked.get("area", ""))
        if self.published:
            return self._begin_published(asked, level, seed, area)
        unit = str(asked.get("unit") or choose_unit(self.knowledge, seed))
        self.knowledge.sheet_of(unit)
        if not {"area", "unit", "seed"} & set(asked):
            with common.busy("Choosing a vehicle"):
                area = choose_area(self.knowledge, unit, level, seed, _read_scores())
        return Practice(Wish(unit, level, seed, area))

    def _begin_published(self, asked: Mapping[str, object], level: int, seed: int, area: str) -> "Practice":
        """Make the wish for a published repair: the one that was named, or one drawn where the score is weak."""
        from shiftlore.practising import Practice, Wish, choose_repair, find_repair

        with common.busy("Choosing a repair"):
            if "repair" in asked:
                repair = find_repair(self.knowledge, str(asked["repair"]))
            else:
                scores = {} if {"area", "seed"} & set(asked) else _read_scores()
                repair = choose_repair(self.knowledge, level, seed, scores, area)
        return Practice(Wish(str(asked.get("unit") or repair.vehicle), level, seed, area, repair.id))

    def _refuse_other(self, asked: Mapping[str, object], wish: "Wish") -> None:
        other = [f"--{key}" for key, value in asked.items() if value != getattr(wish, key)]
        if other:
            raise UsageProblem(
                f"{self.path} holds another round already. Leave {' and '.join(other)} out, or give another file."
            )

    def _show_start(self, current: "Round") -> None:
        from shiftlore.practising import list_known
        from shiftlore.reports.practise_text import render_recap, render_start, render_what_next

        label = self.knowledge.sheet_of(current.exercise.wish.unit).label
        texts = [render_start(current, label, self.width, self.strong)]
        if current.acts:
            texts.append(render_recap(current, list_known(current), self.currency, self.width))
        if not current.outcome:
            texts.append(render_what_next(self.width))
        common.show_pages("\n".join(filter(None, texts)))

    def _take(self, bench: "Workplace", line: str) -> "Workplace | None":
        """Take a line and show what follows; None where it stops the sitting."""
        from shiftlore.practising import Show, take_line
        from shiftlore.reports.practise_text import render_made, render_owner

        turn = take_line(bench, line, lambda acts: self._keep(bench.round, acts))
        if turn.shows is Show.STOP:
            return None
        if turn.made and turn.bench.round.outcome in ("", "cured"):
            log = self._read_log(turn.bench.round)
            common.show_pages(render_made(turn.bench.round, turn.says, self.currency, self.width, log))
        elif turn.owner and turn.says:
            click.echo(render_owner(turn.says, self.width))
        elif turn.says:
            common.show_pages("\n".join(line for text in turn.says for line in self._wrap(text)))
        return self._show(turn, turn.shows) if turn.shows is not None else turn.bench

    def _show(self, turn: "Reaction", show: "Show") -> "Workplace":
        """Show what was asked for."""
        from shiftlore.practising import (
            HELP_LINES,
            Show,
            list_checks,
            list_jobs,
            list_known,
            offer_acts,
            open_act,
            plan_next,
        )
        from shiftlore.reports import practise_text

        bench, current = turn.bench, turn.bench.round
        if show in (Show.CHECKS, Show.JOBS):
            acts = list_checks(current) if show is Show.CHECKS else list_jobs(current)
            common.show_pages(practise_text.render_list(current, acts, self.currency, self.width))
            return offer_acts(bench, acts)
        if show is Show.HELP:
            text = render_help(HELP_LINES, self.width)
        elif show is Show.KNOWN:
            text = practise_text.render_known(current, list_known(current), self.currency, self.width)
        elif show is Show.WHY:
            text = self._say_why(current)
        elif show is Show.LOG:
            text = "\n".join(self._wrap(self._keep_log(current)))
        elif bench.pending is not None:
            opened = open_act(current, bench.pending)
            text = practise_text.render_opened(opened, self.currency, self.width, self.strong)
        else:
            with common.busy("Working out the next step"):
                planned = plan_next(current.exercise.bench, current.work.state)
            text = practise_text.render_hint(planned, self.currency, current.hints, self.width)
        common.show_pages(text)
        return bench

    def _read_log(self, current: "Round") -> str:
        """Say what the recorder has measured, where the last thing that was paid for was a check with it."""
        from shiftlore.reports.practise_text import render_log

        act = current.made[-1].act
        if act.kind != "check" or not current.expansion.checks[act.ids[0]].recorded:
            return ""
        with common.busy("Reading the log"):
            return render_log(current.exercise.drive, self.width)

    def _keep_log(self, current: "Round") -> str:
        """Write the log of the road test beside the file of the round; says where, or why not."""
        from shiftlore.cli.trace import write_columns
        from shiftlore.practising import is_recorded
        from shiftlore.reports.practise_text import NO_LOG, NOT_RECORDED

        if not is_recorded(current):
            return NOT_RECORDED
        if (drive := current.exercise.drive) is None:
            return NO_LOG
        place = self.path.with_name(f"{self.path.stem}-log.csv")
        content = "".join(write_columns(drive.columns)).encode("utf-8")
        try:
            if place.exists() and place.read_bytes() != content:
                return f"{place} holds something else already and stays as it is. Rename it, and write log once more."
            common.save_output(place, content, force=True)
        except (ShiftloreError, OSError) as error:
            return f"The log could not be kept: {error}"
        return f"The log stands in {place}. Read it: shiftlore trace {place} --unit {current.exercise.wish.unit}"

    def _say_why(self, current: "Round") -> str:
        from shiftlore.reports.practise_text import NOTHING_YET, render_why

        if not current.made or self.behind is None:
            return NOTHING_YET
        with common.busy("Looking at it again"):
            judged = self.behind.judged(len(current.made) - 1)
        return render_why(judged, current.made[-1], self.currency, self.width)

    def _keep(self, current: "Round", acts: tuple) -> None:
        """Write the acts to disk, the new one among them, before anything is worked out with it."""
        from shiftlore.practising import save_practice

        assert self.practice is not None, "it was begun"
        self.practice = self.practice.with_acts(acts)
        save_practice(self.path, self.practice)

    def _save(self, current: "Round", mark: str = "", finished_on: str = "") -> None:
        from dataclasses import replace

        from shiftlore.practising import save_practice

        assert self.practice is not None, "it was begun"
        self.practice = replace(
            self.practice, mark=mark or self.practice.mark, finished_on=finished_on or self.practice.finished_on
        )
        save_practice(self.path, self.practice)

    def _end(self, current: "Round") -> None:
        """Judge the round, show how it went, and keep its score."""
        from shiftlore.practising import judge_round, name_act
        from shiftlore.reports.practise_text import render_end

        assert self.practice is not None and self.behind is not None, "it was begun"
        if not self.practice.finished_on:
            self._save(current, finished_on=datetime.datetime.now().replace(microsecond=0).isoformat())
        self.behind.take_in(current)
        with common.busy("Looking at it with the planner") as tell:
            choices, work = self.behind.finish(tell)
            verdict = judge_round(current, choices, work, lambda act: name_act(current, act))
        common.show_pages(render_end(current, verdict, self.currency, self.width, self.strong))
        self._note(current, verdict.planner_run.total)
        wish = current.exercise.wish
        more = f" --area {wish.area}" if wish.area else ""
        more += f" --repair {wish.repair}" if wish.repair else ""
        again = f"shiftlore practise --unit {wish.unit} --level {wish.level}{more} --seed {wish.seed}"
        common.say(f"The same vehicle again: {again}")

    def _note(self, current: "Round", planned: float) -> None:
        """Keep the score of a round in the casebook; the same round told twice is one there."""
        from shiftlore.reports.practise_text import render_score_line

        exercise = current.exercise
        cause = exercise.bench.compiled.expansion.causes[exercise.causes[0]]
        try:
            from shiftlore.casebook import PracticeRound

            assert self.practice is not None, "it was begun"
            done = PracticeRound(
                area=exercise.area,
                cause=cause.template,
                unit=exercise.wish.unit,
                level=str(exercise.wish.level),
                seed=exercise.wish.seed,
                found=current.found,
                spent=round(current.spent, 2),
                planned=round(planned, 2),
                finished_on=self.practice.finished_on,
            )
            with shiftlore.open_casebook() as book:
                book.note_practice(done)
                score = book.practice_scores()[exercise.area]
        except ShiftloreError as error:
            common.say(f"{NOT_KEPT}{error}")
            return
        click.echo(render_score_line(self.knowledge.areas[exercise.area], score, self.width))

    def _wrap(self, text: str) -> list[str]:
        return wrap_lines(text, "      " if text.startswith("  ") else "", "", self.width) if text else []

    def _say_stopped(self) -> None:
        if self.practice is not None and not self.practice.finished_on:
            common.say(f"Everything done is in {self.path}; the same command goes on from here.")
