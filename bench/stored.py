"""Keeps what a bench showed in bench/results/, as plain figures that say nothing of the machine."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

from readiness.engine import ENGINE_VERSION

FOLDER = Path(__file__).parent / "results"


def store(name: str, figures: dict[str, Any]) -> None:
    FOLDER.mkdir(exist_ok=True)
    kept = {"date": dt.date.today().isoformat(), "engine_version": ENGINE_VERSION, **figures}
    (FOLDER / f"{name}.json").write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
