"""What the yard calls its jobs, so that the right one is counted."""

from soapstone.web.pages.yard import told_apart
from soapstone.web.shop import JobEntry


def test_jobs_of_the_same_title_are_told_apart_by_their_files():
    titles = {"arch": "Stern arch", "arch copy": "stern  arch", "rail": "Rail"}
    called = told_apart([JobEntry(name, title, 1, 0.0) for name, title in titles.items()])
    assert called["arch"] == "Stern arch (arch.toml)"
    assert "arch copy.toml" in called["arch copy"]
    assert called["rail"] == "Rail"
