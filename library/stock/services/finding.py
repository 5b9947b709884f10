"""From a code on a label to the thing it is on."""

from __future__ import annotations

from django.utils.translation import gettext as _

from library.errors import Refused
from library.science.codes import MISTYPED, MistypedCode, normalise_code
from library.stock.models import Lot, Packet


class UnknownCode(Refused):
    """A code that could be right, but nothing here carries it (404)."""

    status = 404
    code = "unknown_code"


def find_by_code(text: str) -> Lot | Packet:
    """The lot or packet with the code, however it was typed."""
    try:
        code = normalise_code(str(text))
    except MistypedCode as error:
        sentence = _(MISTYPED[error.key]).format(**error.inputs)
        raise Refused(sentence, field="code") from None
    found: Lot | Packet | None
    if code.startswith("L"):
        found = Lot.objects.with_variety().filter(number=code).first()
    else:
        found = Packet.objects.with_lot().filter(code=code).first()
    if found is None:
        raise UnknownCode(
            _("Nothing in this library carries the code %(code)s.") % {"code": code},
            field="code",
        )
    return found
