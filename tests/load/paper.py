"""How long 500 labels take, beside as many empty boxes with a square code each.

    python -m tests.load.paper [--labels 500] [--repeats 5]

The floor sets the same page with the same squares and no text, from squares that are made
already; what is over it is reading the facts, making the squares, and fitting the text.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import statistics
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.load.stage import own_database, settle, spread

FLOOR = """
#let given = json(bytes(sys.inputs.data))
#set document(title: "floor", date: none)
#set page(width: 210mm, height: 297mm, margin: 0mm)
#for (number, label) in given.labels.enumerate() {
  if number > 0 and label.at.page != given.labels.at(number - 1).at.page { pagebreak() }
  place(top + left, dx: label.at.x * 1mm, dy: label.at.y * 1mm, block(width: 63mm,
    height: 34.5mm, stroke: 0.3pt,
    image(bytes(label.qr), format: "svg", width: 20mm, height: 20mm, alt: label.qr_alt)))
}
"""


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--labels", type=int, default=500)
    asked.add_argument("--repeats", type=int, default=5)
    options = asked.parse_args()
    with own_database(os.environ.get("DATABASE_URL", "")):
        measure(options.labels, options.repeats)


def measure(labels: int, repeats: int) -> None:
    from accounts.roles import Role
    from library.paper import running, services
    from library.paper.asking import content_of
    from library.paper.models import LabelSheet
    from library.stock.models import Packet
    from tests.load.shelf import fill_lots, fill_members, fill_varieties

    (by,) = fill_members(1, role=Role.DESK)
    fill_lots(fill_varieties(60), lots=2, packets=-(-labels // 120))
    settle()
    codes = list(Packet.objects.order_by("pk").values_list("code", flat=True)[:labels])
    today = dt.date.today()  # noqa: DTZ011
    sheet = LabelSheet.objects.first_choice()
    given = services.prepared(kind="labels", keys=codes, by=by, on=today, sheet=sheet)
    data = content_of(given, by=by)
    ours, floor = [], []
    with TemporaryDirectory() as folder:
        source = Path(folder) / "floor.typ"
        source.write_text(FLOOR)
        for _turn in range(repeats):
            began = time.perf_counter()
            empty_boxes(source, data)
            floor.append(time.perf_counter() - began)
            job = services.ask_print(given, by=by)
            began = time.perf_counter()
            running.work_on(running.claim_next(worker="load"))
            ours.append(time.perf_counter() - began)
            job.refresh_from_db()
            assert job.state == "done", job.trouble
    ratios = [mine / bare for mine, bare in zip(ours, floor, strict=True)]
    print(f"{len(codes)} labels, {job.total} made, {len(bytes(job.content)) // 1000} kB")
    print(f"print job     {spread(ours, 2)} s")
    print(f"empty boxes   {spread(floor, 2)} s")
    print(f"ratio         {statistics.median(ratios):.1f}")


def empty_boxes(source: Path, data: dict) -> bytes:
    from typst import compile

    return compile(
        str(source),
        ignore_system_fonts=True,
        pdf_standards=["ua-1"],
        timestamp=0,
        sys_inputs={"data": json.dumps(data)},
    )


if __name__ == "__main__":
    main()
