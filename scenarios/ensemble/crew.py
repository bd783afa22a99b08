"""Who flies: the cores of this machine or a cluster, for studies and walks alike; the numbers are the same."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from scenarios.ensemble.chunks import Lost
from scenarios.ensemble.cluster import Cluster
from scenarios.ensemble.local import Cores
from scenarios.ensemble.store import Stopped

Crew = Cores | Cluster  # `fly` takes jobs and gives each with its chunk, in any order


@contextmanager
def crew_of(workers: int | None, cluster: str | None, kept: bool) -> Iterator[Crew]:
    """`workers` processes (1: this one; None: one a core where that is worth it), or those of the Dask scheduler at `cluster`.

    Raises `UserError`; `Stopped` where the crew is lost, with what becomes of the flights, which were `kept` or not.
    """
    try:
        with Cores(workers) if cluster is None else Cluster(cluster) as crew:
            yield crew
    except Lost as lost:
        how = (
            f"what was flown before is kept; try: {lost.advice}, which goes on from there"
            if kept
            else f"nothing was kept; try: {lost.advice}, with --folder to keep what is flown"
        )
        raise Stopped(f"{lost}; {how}") from None
