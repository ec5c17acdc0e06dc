import datetime as dt

import pytest
import time_machine


@pytest.fixture
def time_machine_at():
    """A clock that stands at midday of a day."""

    def at(day: str):
        return time_machine.travel(dt.datetime.fromisoformat(f"{day}T12:00:00+00:00"), tick=False)

    return at
