"""Paper as it comes out: its pages rendered, its squares read by another's decoder."""

from __future__ import annotations

import datetime as dt

import pytest

from library.paper import services
from library.paper.models import LabelSheet

ON = dt.date(2026, 4, 15)


@pytest.fixture
def make_sheet(desk):
    """``make_sheet(columns=2, …)``: 3 × 4 labels of 60 × 60 mm on A4 unless told otherwise."""

    def make(name: str = "Sheet", **facts) -> LabelSheet:
        given = {
            "page_width": 210,
            "page_height": 297,
            "columns": 3,
            "rows": 4,
            "label_width": 60,
            "label_height": 60,
            "left": 12,
            "top": 15,
            "gap_x": 2.5,
            "gap_y": 4,
        }
        return services.save_sheet(by=desk, name=name, **given | facts)

    return make


@pytest.fixture
def sheet(make_sheet) -> LabelSheet:
    return make_sheet()


@pytest.fixture
def printed(desk, sheet):
    """``printed("labels", [code])`` is the PDF, as the desk gets it."""

    def make(kind: str, keys, *, by=None, **how) -> bytes:
        if kind == "labels":
            how = {"sheet": sheet} | how
        by = by or desk
        given = services.prepared(
            kind=kind, keys=[str(key) for key in keys], by=by, on=ON, **how
        )
        return services.print_now(given, by=by)

    return make
