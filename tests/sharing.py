"""Which tests stay together when several workers share them.

``xdist_group`` would say so beside the tests, but the plugin writes the group into an attribute
that pytest 9.2 no longer reads, and the demo was lived by every worker. A folder is enough.
"""

from __future__ import annotations

from xdist.scheduler import LoadGroupScheduling

TOGETHER = ("tests/demo/",)  # the valley's years are long enough to live through once


class ByFolder(LoadGroupScheduling):
    """Each test by itself to whoever is free; those of a folder above all to one worker."""

    def _split_scope(self, nodeid: str) -> str:
        together = [folder for folder in TOGETHER if nodeid.startswith(folder)]
        return together[0] if together else super()._split_scope(nodeid)
