"""How the lots of a file were grown, and by whom, by the names chosen there."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from library.exchange.prov.document import Document, Record, short
from library.exchange.prov.facts import Facts
from library.exchange.prov.vocabulary import GROWN, PROV
from library.stock.models import Isolation

TEXTS = ("selection", "roguing")
COUNTS = tuple(field for field in GROWN if field not in (*TEXTS, "isolation"))
_NAMES = {field: name.removeprefix("sowback:") for field, name in GROWN.items()}


class Growings:
    """The grow-outs of a document, found by the lot that came of each."""

    def __init__(self, document: Document, agents: dict[str, Record]) -> None:
        self._document = document
        self._agents = agents
        self._activities = {record.name: record for record in document.records("activity")}
        self._made: dict[str, list[Record]] = {}
        for relation in document.records("wasGeneratedBy"):
            self._made.setdefault(relation.end("entity"), []).append(relation)
        self._people: dict[str, list[Record]] = {}
        for relation in document.records("wasAssociatedWith"):
            self._people.setdefault(relation.end("activity"), []).append(relation)

    def of(self, lot: Record, whose: str) -> tuple[dict[str, Any], str]:
        """What was told of how a lot was grown, in our words, and its grower's chosen name."""
        made = [r for r in self._made.get(lot.name, []) if PROV + "activity" in r.facts]
        if not made:
            return {}, ""
        if len(made) > 1:
            sentence = _("%(whose)s: a lot comes of one activity, not of several.")
            self._document.wrong(made[1].line, sentence % {"whose": whose})
        activity = self._activities.get(made[0].end("activity"))
        if activity is None:
            self._document.wrong(
                made[0].line,
                _("%(whose)s: the file tells nothing of the activity that it came of.")
                % {"whose": whose},
            )
            return {}, ""
        return self._growing(activity, whose), self._grower(activity)

    def _growing(self, activity: Record, whose: str) -> dict[str, Any]:
        facts = Facts(self._document, activity, whose)
        told: dict[str, Any] = {field: facts.whole(_NAMES[field]) for field in COUNTS}
        told |= {field: facts.text(_NAMES[field], most=2000) for field in TEXTS}
        told["isolation"] = facts.choice(_NAMES["isolation"], Isolation.values)
        stood, gave = told["plants_stood"], told["plants_gave_seed"]
        if stood is not None and gave is not None and gave > stood:
            facts.wrong(
                "plantsGaveSeed",
                _("%(gave)s plants gave seed, but only %(stood)s stood.")
                % {"gave": gave, "stood": stood},
            )
        return {name: value for name, value in told.items() if value not in (None, "")}

    def _grower(self, activity: Record) -> str:
        """The first person who is named; one of whom the file tells nothing is not named."""
        for relation in self._people.get(activity.name, []):
            agent = self._agents.get(relation.end("agent"))
            if agent is not None and PROV + "Person" in agent.types():
                facts = Facts(
                    self._document, agent, _("grower %(key)s") % {"key": short(agent.key)}
                )
                return facts.text("displayName", most=120)
        return ""
