"""The demo: a workboat's stern arch, its bench and trial bends, all of it invented."""
