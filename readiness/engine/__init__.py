"""What the workshop can and cannot do by a given day: pure computations on plain values.

Nothing in this package knows the database, the web or the clock. Every module answers one question and is
named by it; what it needs comes in as frozen values, and what it finds goes out as frozen values.
"""

ENGINE_VERSION = "1.1.0"
