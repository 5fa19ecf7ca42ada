"""Nothing confirmed on a phone is lost when the server dies."""

import json
import os
import subprocess
import sys

import pytest


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a child is forked for each round")
def test_what_was_confirmed_survives_the_servers_death(tmp_path):
    command = [sys.executable, "-m", "tests.web.killing", str(tmp_path), "5", "7"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["told"] >= 1, "steps were confirmed at all"
    assert found["lost"] == 0
    assert found["kept_untold"] <= 5, "at most the step that was under way at each death"
