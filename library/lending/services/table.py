"""At a swap table: a packet in the hand and a queue; what is meant follows from the packet."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from library.errors import Conflict
from library.lending.models import Loan
from library.lending.services.checks import serves_desk
from library.lending.services.loans import hand_over, lend_packet, take_back_unopened
from library.stock.models import Packet


class AnotherVolunteer(Conflict):
    """What a phone kept was done by somebody else than who is signed in on it now (409)."""

    code = "another_volunteer"


@transaction.atomic
def lend_at_table(*, packet: Packet, borrower: Member, on: dt.date, by: Member) -> Loan:
    """Lend the packet and hand it over; one that the borrower had chosen is handed over."""
    serves_desk(by)
    chosen = Loan.objects.to_hand_over().of(borrower).filter(packet=packet).first()
    if chosen is not None:
        return hand_over(loan=chosen, on=on, by=by)
    return lend_packet(packet=packet, borrower=borrower, on=on, by=by)


@transaction.atomic
def take_back_at_table(
    *, packet: Packet, on: dt.date, by: Member, loan_id: int | None = None
) -> Loan:
    """Take the unopened packet back, whoever has it out.

    With ``loan_id`` only from that loan: the undoing of a loan must not end a later one.
    """
    serves_desk(by)
    loan = open_loan_of(packet)
    if loan_id is not None and loan.pk != loan_id:
        raise Conflict(
            _("Packet %(code)s came back and was lent again since; look at it before you act.")
            % {"code": packet.code},
            field="packet",
        )
    return take_back_unopened(loan=loan, on=on, by=by)


def open_loan_of(packet: Packet) -> Loan:
    """The loan that the packet is out on; Conflict when nobody has it."""
    loan = Loan.objects.open().filter(packet=packet).select_related("borrower").first()
    if loan is None:
        raise Conflict(
            _("Nobody has packet %(code)s out: it is %(state)s.")
            % {"code": packet.code, "state": packet.get_state_display()},
            field="packet",
        )
    return loan


def done_by(volunteer: int | None, by: Member) -> None:
    """Refuse what was done by another volunteer: it is theirs to send."""
    if volunteer is not None and volunteer != by.pk:
        raise AnotherVolunteer(
            _(
                "This was done by somebody else, and %(name)s is signed in now. Sign in as "
                "the one who did it."
            )
            % {"name": by.display_name},
            field="done_by",
        )
