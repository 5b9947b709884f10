"""Paper: labels and lists for the desk, slips for whose they are, cards for all who browse."""

from __future__ import annotations

TABLE = """
route                     method anon  appl  other owner desk  coord admin
printing                  GET    in    404   404   404   200   200   200
printing                  POST   in    404   404   404   200=  200=  200=
paper-labels              GET    in    404   404   404   200   200   200
paper-shelf-list          GET    in    404   404   404   200   200   200
paper-cards               GET    200*  200*  200   200   200   200   200
paper-notice              GET    200*  200*  200   200   200   200   200
paper-loan-slips          GET    in    404   404   200   200   200   200
paper-return-slips        GET    in    404   404   200   200   200   200
paper-season-sheet        GET    in    404   404   200   404   200   200
print-job                 GET    in    404   404   404   200   404   404
print-job-file            GET    in    404   404   404   404   404   404
print-job-stop            POST   in    404   404   404   302   404   404
label-sheets              GET    in    404   404   404   200   200   200
label-sheet-add           GET    in    404   404   404   200   200   200
label-sheet-add           POST   in    404   404   404   302   302   302
label-sheet-edit          GET    in    404   404   404   200   200   200
label-sheet-edit          POST   in    404   404   404   302   302   302
label-sheet-remove        POST   in    404   404   404   302   302   302
label-sheet-put-back      POST   in    404   404   404   302=  302=  302=
api-paper-labels          GET    401   404   404   404   200   200   200
api-paper-shelf-list      GET    401   404   404   404   200   200   200
api-paper-cards           GET    200*  200*  200   200   200   200   200
api-paper-notice          GET    200*  200*  200   200   200   200   200
api-paper-loan-slips      GET    401   404   404   200   200   200   200
api-paper-return-slips    GET    401   404   404   200   200   200   200
api-paper-season-sheet    GET    401   404   404   200   404   200   200
api-print-job-list        GET    401   404   200   200   200   200   200
api-print-job-list        POST   401   404   404   404   201   201   201
api-print-job-detail      GET    401   404   404   404   200   404   404
api-print-job-file        GET    401   404   404   404   404   404   404
api-print-job-stop        POST   401   404   404   404   200   404   404
api-label-sheet-list      GET    401   404   404   404   200   200   200
api-label-sheet-list      POST   401   404   404   404   201   201   201
api-label-sheet-detail    GET    401   404   404   404   200   200   200
api-label-sheet-detail    PUT    401   404   404   404   200   200   200
api-label-sheet-detail    DELETE 401   404   404   404   204   204   204
"""

JOB = ["print-job", "print-job-file", "print-job-stop"]
API_JOB = ["api-print-job-detail", "api-print-job-file", "api-print-job-stop"]
SHEET = ["label-sheet-edit", "label-sheet-remove", "api-label-sheet-detail"]
KEYS = {
    "labels": lambda w: {"key": w.packet.code},
    "shelf-list": lambda w: {"key": w.place.pk},
    "cards": lambda w: {"key": w.variety.pk},
    "loan-slips": lambda w: {"key": w.loan.pk},
    "return-slips": lambda w: {"key": w.loan.pk},
    "season-sheet": lambda w: {"key": w.promised.pk},
}

THINGS = {name: lambda w: [w.print_job.identifier] for name in [*JOB, *API_JOB]} | {
    name: lambda w: [w.label_sheet.pk] for name in SHEET
}
QUERY = {
    f"{where}-{kind}": keys for kind, keys in KEYS.items() for where in ("paper", "api-paper")
}


def _sheet(w, me) -> dict:
    return {
        "name": "Half sheet",
        "shape": "sheet",
        "page_width": 100,
        "page_height": 150,
        "columns": 2,
        "rows": 3,
        "label_width": 45,
        "label_height": 40,
        "left": 5,
        "top": 5,
        "gap_x": 0,
        "gap_y": 0,
    }


SENT = {
    "printing POST": lambda w, me: {"codes": w.packet.code, "kind": "labels"},
    "label-sheet-add POST": _sheet,
    "label-sheet-edit POST": _sheet,
    "api-label-sheet-list POST": _sheet,
    "api-label-sheet-detail PUT": _sheet,
    "api-print-job-list POST": lambda w, me: {"kind": "labels", "keys": [w.packet.code]},
}
