from tests.readiness.record.conftest import clock, event

__all__ = ["clock", "event"]
