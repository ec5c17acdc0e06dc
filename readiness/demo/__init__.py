"""An invented museum with its first event, to look round in and to test against."""
