"""Rows to engine inputs: the one place where the database and the engine meet."""

from readiness.snapshot.museum import museum_state
from readiness.snapshot.rows import Rows, fetch
from readiness.snapshot.workshop import Workload, workload

__all__ = ["Rows", "Workload", "fetch", "museum_state", "workload"]
