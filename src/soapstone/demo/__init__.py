"""The demo job: a small workboat's stern arch, with its bench and trial bends. All data invented."""
