"""One record of the trade in full: what it is, what it is mistaken for, how it shows, is checked, cured and priced.

All is worked out on one unit, for a vehicle of which nothing else is known: how often a sign shows follows from the rules
as the engine reads them, through every hidden state, not from a single line of a file.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shiftlore.advising.pricing import OptionCost, Pricer, price_waiting
from shiftlore.basics import Mark, UnknownId, nearest
from shiftlore.cases import Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_beforehand, compile_unit, count_published, fill_name
from shiftlore.gearing import unit_facts
from shiftlore.knowledge import (
    Cause,
    Finding,
    Knowledge,
    Link,
    Need,
    Scope,
    State,
    Strength,
    name_in_general,
    speak_in_general,
)

LEAST_SHOWN, LEAST_RISE = 0.08, 1.5
"""A sign that shows more rarely, or is hardly commoner than among all complaints, is not told of a cause: judgement."""
LEAST_EXPECTED = 0.5
"""A sign that a cause shows at least so often speaks against it where it is missing: judgement."""
MOST_TOLD = 20
MOST_CHECKS, MOST_A_GRADE = 6, 4
TWO_ANSWERS = 2
GOT_BY = {
    "owner": "the owner tells it",
    "history": "papers and history",
    "look": "looking",
    "road": "driving",
    "scan": "a scan tool",
    "measure": "measuring",
    "open": "opening it",
}
BY_CHANCE, BY_WEAR = "chance, at any distance", "wear: the more distance, the likelier"
EARLY = "early failure of new or newly fitted parts"
WITHOUT_A_CHECK = ("owner", "history")


@dataclass(frozen=True, slots=True)
class Told:
    """One line of an explanation: another record and what it has to do with this one.

    Args:
        says: a sentence about it, or "".
        word: the strength word nearest to `p`, or "".
        p: how often it shows, or how surely it is put right.
        usual: how often that shows among all complaints; share: among vehicles that show it, how many have this cause.
        published: published repairs of the cause that name the sign.
        details: names of more records, such as the findings that tell two causes apart.
        cost: from a vehicle with nothing open; None where it costs nothing by itself.
    """

    id: str
    label: str
    says: str = ""
    word: str = ""
    p: float | None = None
    usual: float | None = None
    share: float | None = None
    published: int | None = None
    details: tuple[str, ...] = ()
    cost: OptionCost | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """One line of the files that speaks of it: file and line, what it states, and where that is taken from."""

    place: str
    says: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Everything about one cause, finding, check or job.

    Args:
        kind: `cause`, `finding`, `check` or `job`; code: the trouble code that was asked for, or "".
        unit: the unit that it was worked out on; instances: the ids of a template there, of which `id` is the first.
        facts: name -> a short text.
        sections: name -> lines: `mistaken_for`, `shows`, `checked_by`, `cured_by`; `answers`, `speaks_for`,
            `no_speaks_against`; `reveals`; `cures`, `parts`, `follows`; `mind`.
        cost: of a check or job by itself, from a vehicle with nothing open.
        also: other records that the words may have meant, as kind and id.
        invented, tax_percent: as of the shop.
    """

    kind: str
    id: str
    code: str = ""
    label: str
    unit: str
    says: str
    facts: Mapping[str, str]
    sections: Mapping[str, tuple[Told, ...]]
    cost: OptionCost | None = None
    rules: tuple[Rule, ...]
    currency: str
    instances: tuple[str, ...] = ()
    also: tuple[tuple[str, str], ...] = ()
    invented: tuple[str, ...] = ()
    tax_percent: float = 0.0


def explain_record(knowledge: Knowledge, wanted: str, unit_id: str | None = None) -> Explanation:
    """Explain a record by its id, as written or as it is called on the unit, or by its trouble code.

    Args:
        unit_id: the unit to work it out on; None takes the kind that leaves most open, or else the first that has it.
    Raises: UnknownId: nothing is called so, or the unit has no such thing; names the nearest.
    """
    code = knowledge.codes.get(wanted.upper())
    for sheet in [knowledge.sheet_of(unit_id).id] if unit_id else _order_units(knowledge):
        unit = compile_unit(knowledge, sheet)
        found = _find_on(unit, unit.aliases.get(code.code, code.finding) if code else wanted)
        if found:
            told = _Teller(compile_beforehand(unit, Case(sheet)), *found).tell()
            return replace(told, code=code.code, says=f"{code.means}. {told.says}") if code else told
    known = [*knowledge.causes, *knowledge.findings, *knowledge.checks, *knowledge.jobs, *knowledge.codes]
    if unit_id and (code or wanted in known):
        raise UnknownId(f'The unit {unit_id} has no "{wanted}". Leave --unit out, or name another unit.')
    near = nearest(wanted, known)
    advice = f"Nearest: {', '.join(near)}." if near else "Describe it in plain words, or look with `shiftlore find`."
    raise UnknownId(f'Nothing is called "{wanted}". {advice}')


def _order_units(knowledge: Knowledge) -> list[str]:
    """List the units, first those that leave most open."""
    if _order_units not in knowledge.worked_out:
        facts = {name: unit_facts(sheet) for name, sheet in knowledge.sheets.items()}
        ordered = sorted(facts, key=lambda name: len(facts[name].sure_tags) - len(facts[name].tags))
        knowledge.worked_out[_order_units] = ordered
    return knowledge.worked_out[_order_units]


def _find_on(unit: CompiledUnit, wanted: str) -> tuple[str, tuple[str, ...]] | None:
    """Find the kind of a record and its ids on a unit."""
    on_unit = unit.expansion
    wanted = on_unit.renamed.get(wanted, wanted)
    for kind, ids in (
        ("cause", {key: cause.template for key, cause in on_unit.causes.items()}),
        ("finding", {key: node.template for key, node in on_unit.findings.items()}),
        ("check", {key: key for key in on_unit.checks}),
        ("job", on_unit.job_templates),
    ):
        if wanted in ids:
            return kind, (wanted,)
        if several := tuple(key for key, template in ids.items() if template == wanted):
            return kind, several
    return None


_Parts = tuple[str, str, dict[str, str], dict[str, Iterable[Told]], list[Rule], OptionCost | None]


@dataclass(frozen=True)
class _Teller:
    """Tells of one record of a unit; of a template, of its first instance."""

    compiled: CompiledCase
    kind: str
    ids: tuple[str, ...]

    @property
    def knowledge(self) -> Knowledge:
        """The rules."""
        return self.compiled.knowledge

    @cached_property
    def pricer(self) -> Pricer | None:
        """Prices from a vehicle with nothing open; None without a shop."""
        return Pricer(self.compiled, self.knowledge.shop) if self.knowledge.shop else None

    @cached_property
    def shown(self) -> Mapping[str, np.ndarray]:
        """P(finding's grade | nothing, or one cause alone), shape (n_grades, 1 + n_causes); kept with the knowledge."""
        kept, key, single = self.knowledge.worked_out, (_Teller, self.compiled.case.unit), self.compiled.prepared.single
        if key not in kept:
            kept[key] = single.predict({}, tuple(single.tables.gates))
        return kept[key]

    @cached_property
    def prior(self) -> np.ndarray:
        """P(nothing, or one cause), shape (1 + n_causes,)."""
        return np.asarray(self.compiled.prepared.single.tables.prior)

    @cached_property
    def place_of(self) -> Mapping[str, int]:
        """Cause -> its column."""
        return {cause: i for i, cause in enumerate(self.compiled.prepared.chances.causes, 1)}

    def tell(self) -> Explanation:
        """Put everything together."""
        shop = self.knowledge.shop
        parts: _Parts = getattr(self, f"tell_{self.kind}")(self.ids[0])
        label, says, facts, sections, rules, cost = parts
        return Explanation(
            kind=self.kind,
            id=self.ids[0],
            label=label,
            unit=self.compiled.case.unit,
            says=says,
            facts={name: text for name, text in facts.items() if text},
            sections={name: lines for name, made in sections.items() if (lines := tuple(made))},
            cost=cost,
            rules=tuple(rules),
            currency=shop.currency if shop else "",
            instances=self.ids if len(self.ids) > 1 else (),
            invented=shop.invented if shop else (),
            tax_percent=shop.tax_percent if shop else 0.0,
        )

    def tell_cause(self, key: str) -> _Parts:
        """Tell of a cause."""
        expanded, words = self.compiled.expansion.causes[key], self.knowledge.words
        cause, column = expanded.cause, self.place_of[key]
        raised = [one for one in sorted(cause.raised_by, key=lambda one: -one.ratio) if one.ratio > 1]
        count, published = count_published(self.knowledge, cause.id)
        raises = [f"{self._say_background(one.background, one.grade)} (x {one.ratio:g})" for one in raised]
        within = f" Usually within {cause.driven_on.within_km:,} km." if cause.driven_on.within_km else ""
        facts = {
            "driven on": cause.driven_on.says + within,
            "area": self.knowledge.areas[expanded.area].label,
            "how common": f"about {cause.per_thousand.p * 1000:g} of 1,000 complaints at {words.reference_km:,.0f} km",
            "comes by": BY_CHANCE if cause.wear == 1 else BY_WEAR if cause.wear > 1 else EARLY,
            "likelier with": "; ".join(raises[:3]),
            "published": f"{count} repair{'s' * (count > 1)} of it" if count else "",
        }
        signs = list(self._signs_of(column, published))
        cures = {job: cured[key] for job, cured in self.compiled.expansion.cures.items() if key in cured}
        sections: dict[str, Iterable[Told]] = {
            "shows": signs[:MOST_TOLD],
            "mistaken_for": [
                Told(other.cause, self._general(other.cause), other.because, details=self._names(other.tells_apart))
                for other in cause.looks_like
            ],
            "checked_by": self._checks_for(signs),
            "cured_by": self._sort_jobs(cures),
        }
        own = Rule(_place(cause.mark), name_in_general(cause), cause.source)
        label, says = self._speak(
            expanded.label, name_in_general(cause), cause.says, scope=cause.scope, key=expanded.id, template=cause.id
        )
        return label, says, facts, sections, [own, *self._rules_of(cause, published)], None

    def tell_finding(self, key: str) -> _Parts:
        """Tell of a finding."""
        record, node = self.compiled.expansion.finding_records[key], self.compiled.expansion.findings[key]
        telling = 1.0 - self.shown[key][0]
        usual = float(telling @ self.prior)
        denied = (self.prior * (1.0 - telling)) / max(1.0 - usual, 1e-9)
        against = [i for i in np.argsort(denied[1:] - self.prior[1:]) + 1 if telling[i] >= LEAST_EXPECTED][:MOST_TOLD]
        checks = [check for check, found in self.compiled.expansion.reveals.items() if key in found]
        labels = record.grade_labels
        sections: dict[str, Iterable[Told]] = {
            "answers": [
                Told(grade, labels.get(grade, grade), usual=float(self.shown[key][i] @ self.prior))
                for i, grade in enumerate(node.grades)
                if len(node.grades) > TWO_ANSWERS
            ],
            "checked_by": [self._tell_act(check, self.compiled.expansion.checks[check].how) for check in checks],
            "speaks_for": self._spoken_for(key, "" if len(node.grades) == TWO_ANSWERS else labels),
            "no_speaks_against": [self._cause_line(int(i), float(telling[i]), None) for i in against],
        }
        rules = [Rule(_place(record.mark), name_in_general(record), record.source)]
        for parent in self.knowledge.parents:
            lines = [line for line in parent.leads_to if line.target == record.id]
            rules += [Rule(_place(line.mark), f"{_call(parent)}: {_say_line(line)}", parent.source) for line in lines]
        facts = {"asked": speak_in_general(record.ask, record.scope), "got by": GOT_BY[record.got_by]}
        facts["usual"] = f"shows in {usual * 100:.2g} % of all complaints"
        label, _ = self._speak(node.label, name_in_general(record), "", scope=record.scope, key=key, template=record.id)
        return label, "", facts, sections, rules, None

    def tell_check(self, key: str) -> _Parts:
        """Tell of a check."""
        check = self.compiled.expansion.checks[key]
        facts = self._act_facts(check.minutes, check.access, check.tools)
        facts["sure"] = (
            f"misses a true sign in {check.missed * 100:.2g} %, shows a false one in {check.false_alarm * 100:.2g} %"
        )
        if self.pricer and (waiting := price_waiting(self.pricer.shop, check)) >= 1:
            facts["waits"] = f"{self.pricer.shop.currency} {waiting:,.0f} more, for the time that the vehicle waits"
        revealed = dict.fromkeys(
            self.compiled.expansion.finding_records[it].id for it in self.compiled.expansion.reveals[key]
        )
        sections: dict[str, Iterable[Told]] = {
            "reveals": [Told(it, name_in_general(self.knowledge.findings[it])) for it in revealed],
            "mind": self._cautions(check.cautions),
        }
        cost = self.pricer.price_checks((key,)) if self.pricer else None
        return check.label, check.how, facts, sections, [Rule(_place(check.mark), check.label, check.source)], cost

    def tell_job(self, key: str) -> _Parts:
        """Tell of a job."""
        job, prices = self.compiled.expansion.jobs[key], self.knowledge.prices
        facts = self._act_facts(job.minutes, job.access, job.tools)
        facts |= {"stands": f"{job.days:g} days" if job.days else "", "not covered": job.not_covered}
        cured = sorted(
            self.compiled.expansion.cures[key].items(), key=lambda one: -one[1].p * self.prior[self.place_of[one[0]]]
        )
        sections: dict[str, Iterable[Told]] = {
            "cures": [
                Told(cause, self.compiled.expansion.causes[cause].label, word=self._word(strength.p), p=strength.p)
                for cause, strength in cured
            ],
            "parts": [
                Told(need.price, prices[need.price].label, f"{need.count:g}", cost=_price_of(need, self.knowledge))
                for need in (*job.parts, *job.consumables)
                if need.price in prices
            ],
            "follows": [
                Told(name, item.label, item.says)
                for name in job.follow_ups
                if (item := self.knowledge.follow_ups.get(name)) is not None
            ],
            "mind": self._cautions(job.cautions),
        }
        rules = [Rule(_place(job.mark), name_in_general(job), job.source)]
        rules += [
            Rule(
                _place(cure.mark), f"puts right {self._general(cure.cause)}: {_say_strength(cure.strength)}", job.source
            )
            for cure in job.cures
        ]
        name = self.compiled.expansion.name_job(key)
        template = self.compiled.expansion.job_templates[key]
        label, says = self._speak(name, name_in_general(job), job.says, scope=job.scope, key=key, template=template)
        cost = self.pricer.price_jobs((key,)) if self.pricer else None
        return label, says, facts, sections, rules, cost

    def _signs_of(self, column: int, published: Mapping[str, int]) -> Iterable[Told]:
        """Give the signs of one cause, the most telling first; of a graded finding the grade that tells most.

        Args:
            published: of how many published repairs of it each `finding=grade` was told.
        """
        found = []
        for key, table in self.shown.items():
            p, usual = table[1:, column], table[1:] @ self.prior
            weight = p * np.log(np.maximum(p, 1e-12) / np.maximum(usual, 1e-12))
            grade = int(np.argmax(weight))
            if p[grade] >= LEAST_SHOWN and p[grade] >= LEAST_RISE * usual[grade]:
                found.append((float(weight[grade]), key, grade + 1, float(p[grade]), float(usual[grade])))
        for _, key, grade, p_shown, usual_p in sorted(found, key=lambda one: -one[0]):
            node = self.compiled.expansion.findings[key]
            label = (
                node.label if len(node.grades) == 2 else self.compiled.expansion.name_answer(key, node.grades[grade])
            )
            named = published.get(f"{self.compiled.expansion.finding_records[key].id}={node.grades[grade]}")
            yield Told(key, label, word=self._word(p_shown), p=p_shown, usual=usual_p, published=named)

    def _checks_for(self, signs: Iterable[Told]) -> list[Told]:
        """Give the checks that show the most telling signs, the cheapest for each."""
        expansion, found = self.compiled.expansion, dict[str, list[str]]()
        for sign in signs:
            if expansion.finding_records[sign.id].got_by in WITHOUT_A_CHECK:
                continue
            ways = [check for check, reveals in expansion.reveals.items() if sign.id in reveals]
            best = min(ways, key=self._check_price, default=None)
            if best is not None and (best in found or len(found) < MOST_CHECKS):
                found.setdefault(best, []).append(sign.label)
        return [self._tell_act(check, "", tuple(labels[:3])) for check, labels in found.items()]

    def _spoken_for(self, finding: str, labels: Mapping[str, str] | str) -> Iterable[Told]:
        """Give the causes that a telling answer makes likelier, likeliest first; of a graded one the worst answer first.

        Args:
            labels: grade -> what it is called, to be told; "" where there is only one telling answer.
        """
        grades = self.compiled.expansion.findings[finding].grades
        for grade in range(len(grades) - 1, 0, -1):
            p, name = self.shown[finding][grade], grades[grade]
            joint = p * self.prior
            usual = max(float(joint.sum()), 1e-9)
            says = labels.get(name, name) if isinstance(labels, Mapping) else ""
            for i in np.argsort(-joint[1:], kind="stable")[: MOST_TOLD if not says else MOST_A_GRADE] + 1:
                if p[i] >= LEAST_RISE * usual:
                    yield replace(self._cause_line(int(i), float(p[i]), float(joint[i]) / usual), says=says)

    def _check_price(self, check: str) -> float:
        return (
            self.pricer.price_checks((check,)).typical if self.pricer else self.compiled.expansion.checks[check].minutes
        )

    def _tell_act(self, check: str, says: str, details: tuple[str, ...] = ()) -> Told:
        cost = self.pricer.price_checks((check,)) if self.pricer else None
        return Told(check, self.compiled.expansion.checks[check].label, says, details=details, cost=cost)

    def _sort_jobs(self, cures: Mapping[str, Strength]) -> list[Told]:
        """Give the jobs that put a cause right, the surest first, then those that are for little else."""
        lines = [
            Told(
                job,
                self.compiled.expansion.name_job(job),
                word=self._word(strength.p),
                p=strength.p,
                cost=self.pricer.price_jobs((job,)) if self.pricer else None,
            )
            for job, strength in cures.items()
        ]
        breadth = {job: len(self.compiled.expansion.cures[job]) for job in cures}
        return sorted(lines, key=lambda one: (-(one.p or 0.0), breadth[one.id]))

    def _cause_line(self, column: int, p: float, share: float | None) -> Told:
        cause = self.compiled.prepared.chances.causes[column - 1]
        label = self.compiled.expansion.causes[cause].label
        return Told(cause, label, word=self._word(p), p=p, share=share)

    def _speak(self, own: str, general: str, says: str, *, scope: Scope, key: str, template: str) -> tuple[str, str]:
        """Give label and sentence: of one instance by its name, of several without any."""
        if len(self.ids) > 1:
            return general, speak_in_general(says, scope)
        instances = self.compiled.expansion.instances.get(scope.each or "", ())
        return own, fill_name(says, next((it for it in instances if key == f"{template}_{it.id}"), None))

    def _act_facts(self, minutes: float, access: str, tools: tuple[str, ...]) -> dict[str, str]:
        level = self.knowledge.access[access].label if access in self.knowledge.access else access
        return {"work": f"{minutes:g} min with: {level.lower()}", "tools": ", ".join(tools).replace("_", " ")}

    def _say_background(self, background: str, answer: str) -> str:
        record = self.knowledge.backgrounds[background]
        said = record.grade_labels[answer]
        return said if said.lower() == record.label.lower() else f"{record.label}: {said}"

    def _cautions(self, cautions: Iterable[str]) -> list[Told]:
        known = self.knowledge.cautions
        return [Told(name, name.replace("_", " "), known[name].says) for name in cautions if name in known]

    def _general(self, cause: str) -> str:
        return name_in_general(self.knowledge.causes[cause]) if cause in self.knowledge.causes else cause

    def _names(self, findings: Iterable[str]) -> tuple[str, ...]:
        known = self.knowledge.findings
        return tuple(name_in_general(known[name]) if name in known else name for name in findings)

    def _rules_of(self, cause: Cause, published: Mapping[str, int]) -> list[Rule]:
        """Give the lines of a cause, and the files of the hidden states that they lead to."""
        states, rules, via = self.knowledge.states, [], dict[str, Rule]()
        for link in cause.leads_to:
            record = self.knowledge.findings.get(link.target) or states[link.target]
            named = sum(published.get(f"{link.target}={grade}", 0) for grade in link.strengths)
            seen = f"; named in {named} published repair{'s' * (named > 1)} of it" if named else ""
            rules.append(Rule(_place(link.mark), f"{_call(record)}: {_say_line(link)}{seen}", cause.source))
            if link.target in states:
                state = states[link.target]
                via[state.id] = Rule(_place(state.mark), f"what follows from: {_call(state)}", state.source)
        return [*rules, *via.values()]

    def _word(self, p: float) -> str:
        """Give the strength word whose number is nearest."""
        words = self.knowledge.words.strengths
        return min(words, key=lambda word: abs(words[word].p - p)).replace("_", " ")


def _call(record: Cause | Finding | State) -> str:
    """Name a record of any kind without an instance."""
    return speak_in_general(record.label, record.scope) if isinstance(record, State) else name_in_general(record)


def _price_of(need: Need, knowledge: Knowledge) -> OptionCost:
    price = knowledge.prices[need.price]
    return OptionCost(price.low * need.count, price.typical * need.count, price.high * need.count)


def _place(mark: Mark) -> str:
    return f"{mark.file}:{mark.line}"


def _say_line(link: Link) -> str:
    """Say a line as it is written: `often`, `dark often, black sometimes`."""
    parts = [
        f"{grade} {_say_strength(strength)}" if len(link.strengths) > 1 or grade != "yes" else _say_strength(strength)
        for grade, strength in link.strengths.items()
    ]
    where = f" (where {link.where.replace('_', ' ')})" if link.where else ""
    return ", ".join(parts) + where


def _say_strength(strength: Strength) -> str:
    """Say a strength by its word, or by what was counted."""
    return strength.word.replace("_", " ") if strength.word else f"counted, {strength.p * 100:.0f} %"
