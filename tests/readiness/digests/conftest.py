import pytest
import time_machine

from tests.readiness.programme.stage import NOW, event_of


@pytest.fixture
def clock():
    with time_machine.travel(NOW, tick=False) as moved:
        yield moved


@pytest.fixture
def event(museum, clock, coordinator):
    return event_of(coordinator)
