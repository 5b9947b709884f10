"""Reading a chain that another library wrote as PROV-JSON.

At most ``MOST_BYTES`` and ``MOST_LOTS``. Records and facts that are not ours are passed over.
Every other thing that cannot be is told with its line, all of them at once.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Collection, Iterable, Sequence
from typing import Any

from django.utils.translation import gettext as _

from library.catalogue.models import BreedingStatus
from library.errors import Refused
from library.exchange.prov.document import MOST_PROBLEMS, Document, Record, short
from library.exchange.prov.facts import Facts
from library.exchange.prov.graph import check_graph
from library.exchange.prov.growing import Growings
from library.exchange.prov.lines import Broken, Problem, parsed
from library.exchange.prov.told import ToldChain, ToldLink, ToldLot
from library.exchange.prov.vocabulary import LOT, PROV, SOWBACK

MOST_BYTES = 5_000_000
MOST_LOTS = 5_000
ORIGINS = ("deposit", "return", "bulk")
_SHOWN = 20
Check = Callable[[Collection[ToldLot]], Iterable[Problem]]


class Unreadable(Refused):
    """The file cannot be taken in; ``problems`` says why, each with its line."""

    code = "unreadable"

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = sorted(problems)
        told = [str(problem) for problem in self.problems[:_SHOWN]]
        if len(self.problems) > _SHOWN:
            told.append(_("… and more."))
        super().__init__("\n".join(told), field="content")


def read_chain(content: bytes | str, *, on: dt.date, also: Check | None = None) -> ToldChain:
    """The chain that the file tells of, parents before children.

    ``on`` is today: nothing may have happened later. ``also`` is asked what else is wrong with
    the lots that could be read. Raises Unreadable with every problem.
    """
    data, lines = _plain_data(text_of(content))
    document = Document(data, lines)
    records = [r for r in document.records("entity") if SOWBACK + "Lot" in r.types()]
    if len(records) > MOST_LOTS:
        words = {"n": len(records), "most": MOST_LOTS}
        sentence = _("the file tells of %(n)s lots; at most %(most)s are taken in.") % words
        raise Unreadable([Problem(1, sentence)])
    if not records and not document.problems:
        document.wrong(1, _("the file tells of no lot: no entity is a sowback:Lot."))
    reader = _Reader(document, records, on=on)
    chain = reader.chain()
    problems = [*document.problems, *(also(reader.lots.values()) if also else ())]
    if problems or chain is None:
        raise Unreadable(problems[:MOST_PROBLEMS])
    return chain


def text_of(content: bytes | str) -> str:
    """The file as text, or a refusal: its size first, then its encoding."""
    size = len(content) if isinstance(content, bytes) else len(content.encode(errors="replace"))
    if size > MOST_BYTES:
        words = {"size": f"{size / 1e6:.1f}", "most": MOST_BYTES // 1_000_000}
        raise Refused(
            _("The file has %(size)s MB; at most %(most)s MB are taken in.") % words,
            field="content",
        )
    if isinstance(content, str):
        return _whole_characters(content)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        sentence = _("here the file is not text in UTF-8. Take it as it was sent.")
        raise Unreadable([Problem(line, sentence)]) from None


def _whole_characters(text: str) -> str:
    """Half a surrogate pair is no character, and no database keeps it."""
    try:
        text.encode()
    except UnicodeEncodeError as error:
        line = text.count("\n", 0, error.start) + 1
        sentence = _("here the file has a character that cannot be kept.")
        raise Unreadable([Problem(line, sentence)]) from None
    return text.removeprefix("\ufeff")


def _plain_data(text: str) -> tuple[Any, Any]:
    try:
        return parsed(text)
    except Broken as broken:
        raise Unreadable([broken.problem]) from None


class _Reader:
    """Puts the records together: lots, whose they were, their links, how they were grown."""

    def __init__(self, document: Document, records: list[Record], *, on: dt.date) -> None:
        self._document = document
        self._latest = on + dt.timedelta(days=1)  # it may be tomorrow elsewhere on earth
        self._records: dict[str, Record] = {}
        self._identifiers: dict[str, uuid.UUID] = {}
        for record in records:
            self._take(record)
        self.lots: dict[uuid.UUID, ToldLot] = {}
        self._agents = {record.name: record for record in document.records("agent")}
        self._owners = self._attributed()
        self._growings = Growings(document, self._agents)

    def _take(self, record: Record) -> None:
        identifier = _identifier(record.name)
        if identifier is None:
            self._document.wrong(
                record.line,
                _("“%(key)s” is no lot's identifier; it must be %(urn)s and a UUID.")
                % {"key": short(record.key), "urn": LOT},
            )
        elif identifier in self._identifiers.values():
            self._document.wrong(
                record.line,
                _("lot “%(key)s” is told of a second time.") % {"key": short(record.key)},
            )
        else:
            self._records[record.name] = record
            self._identifiers[record.name] = identifier

    def _attributed(self) -> dict[str, list[Record]]:
        owners: dict[str, list[Record]] = {}
        for relation in self._document.records("wasAttributedTo"):
            agent = self._agents.get(relation.end("agent"))
            if agent is None and relation.end("entity") in self._records:
                self._missing(relation, "agent")
            elif agent is not None and PROV + "Organization" in agent.types():
                owners.setdefault(relation.end("entity"), []).append(agent)
        return owners

    def chain(self) -> ToldChain | None:
        links = self._links()
        lots = self.lots
        for name, record in self._records.items():
            lot = self._lot(record, self._identifiers[name], tuple(links.get(name, ())))
            if lot is not None:
                lots[lot.identifier] = lot
        heads = self._heads()
        whole = len(lots) == len(self._records)
        ordered = check_graph(self._document, lots, heads) if whole else None
        if ordered is None or len(heads) != 1:
            return None
        return ToldChain(heads[0], ordered)

    def _heads(self) -> list[uuid.UUID]:
        heads = []
        for name, record in self._records.items():
            told = (record.facts.get(SOWBACK + "head") or [False])[0]
            if told not in (True, False, "true", "false"):
                facts = Facts(self._document, record, short(record.key))
                facts.wrong("head", _("“head” must be true or false."))
            if told in (True, "true"):
                heads.append(name)
        if self._records and not heads:
            line = min(record.line for record in self._records.values())
            self._document.wrong(
                line, _("no lot is marked as the one that the file is about (head).")
            )
        for name in heads[1:]:
            self._document.wrong(
                self._records[name].line_of(SOWBACK + "head"),
                _("a second lot is marked as the one that the file is about (head)."),
            )
        return [self._identifiers[name] for name in heads]

    def _lot(
        self, record: Record, identifier: uuid.UUID, parents: tuple[ToldLink, ...]
    ) -> ToldLot | None:
        before = len(self._document.problems)
        number = (record.facts.get(SOWBACK + "number") or [record.key])[0]
        whose = _("lot %(lot)s") % {"lot": short(number)}
        facts = Facts(self._document, record, whose)
        status = facts.choice("breedingStatus", BreedingStatus.values, needed=True)
        received_on = facts.day("receivedOn", latest=self._latest)
        year = facts.whole("harvestYear", least=1900, most=self._latest.year)
        if received_on and year and year > received_on.year:
            words = {"year": year, "day": received_on.isoformat()}
            facts.wrong(
                "harvestYear",
                _("a harvest of %(year)s cannot have been received on %(day)s.") % words,
            )
        library, place = self._library(record, whose)
        growing, grower = self._growings.of(record, whose)
        lot = ToldLot(
            identifier=identifier,
            number=facts.text("number", most=40, needed=True),
            variety=facts.text("variety", most=120, needed=True),
            crop=facts.text("crop", most=80, needed=True),
            species=facts.text("species", most=120, needed=True),
            breeding_status=status,
            generation=facts.whole("generation", least=2, most=30),
            origin=facts.choice("origin", ORIGINS, needed=True),
            harvest_year=year,
            received_on=received_on or dt.date.min,
            region=facts.text("region", most=120),
            story=facts.text("story", most=8000),
            library=library,
            place=place,
            line=record.line,
            lines={name.removeprefix(SOWBACK): line for name, line in record.lines.items()},
            grower_name=grower,
            growing=growing,
            parents=parents,
        )
        return lot if len(self._document.problems) == before else None

    def _library(self, record: Record, whose: str) -> tuple[str, str]:
        owners = self._owners.get(record.name, [])
        if len(owners) != 1:
            said = _("say with wasAttributedTo which one library kept it.")
            self._document.wrong(record.line, f"{whose}: {said}")
            return "", ""
        facts = Facts(
            self._document, owners[0], _("library %(key)s") % {"key": short(owners[0].key)}
        )
        given = next(
            (name for name in ("displayName", "name") if SOWBACK + name in owners[0].facts),
            "prov:label",
        )
        return facts.text(given, most=120, needed=True), facts.text("place", most=120)

    def _links(self) -> dict[str, list[ToldLink]]:
        """Each lot's parents by the names of the lots."""
        links: dict[str, list[ToldLink]] = {}
        for relation in self._document.records("wasDerivedFrom"):
            child, parent = relation.end("generatedEntity"), relation.end("usedEntity")
            if child not in self._records and parent not in self._records:
                continue  # of things that are no lots
            if child not in self._records:
                self._missing(relation, "generatedEntity")
            elif parent not in self._records:
                self._missing(relation, "usedEntity")
            else:
                self._link(links.setdefault(child, []), relation, parent)
        return links

    def _link(self, links: list[ToldLink], relation: Record, parent: str) -> None:
        identifier = self._identifiers[parent]
        if any(link.parent == identifier for link in links):
            self._document.wrong(
                relation.line, _("the same parent lot is named twice; give one share of it.")
            )
            return
        share = Facts(self._document, relation, short(relation.key)).share("share")
        if share is not None:
            links.append(ToldLink(identifier, share, relation.line))

    def _missing(self, relation: Record, end: str) -> None:
        named = (relation.facts.get(PROV + end) or [""])[0]
        words = {"section": relation.section, "end": f"prov:{end}", "named": short(named)}
        self._document.wrong(
            relation.line_of(PROV + end),
            _(
                "%(section)s: %(end)s is “%(named)s”, of which the file tells nothing; "
                "it must be in the file."
            )
            % words,
        )


def _identifier(name: str) -> uuid.UUID | None:
    """The UUID of ``urn:uuid:…`` as it is written there, or None."""
    text = name.removeprefix(LOT)
    try:
        identifier = uuid.UUID(text)
    except ValueError:
        return None
    return identifier if name.startswith(LOT) and str(identifier) == text.lower() else None
