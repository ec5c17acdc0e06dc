"""Tables in and out: a frame that each app fills with its own tables."""
