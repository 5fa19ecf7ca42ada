"""Entries of a file taken out and put in by lines, however the file is laid out."""

import tomllib

import pytest

from soapstone.exchange.toml_entries import (
    entry_changed,
    entry_texts,
    with_entries_as_remarks,
    with_entry_text,
    without_entry_text,
)

APART = """# the shop's
[[ die ]]
name = "a"  # the first

# between them
[[tubing]]
name = "t"
# of the second die
[["die"]]
name = "b"
bends = [
  [30, 29],
  # odd
  [60, 58],
]
[bender]
name = "x"
"""


@pytest.mark.parametrize("text", [APART, APART.replace("\n", "\r\n"), APART.rstrip("\n")])
def test_entries_that_stand_apart_come_and_go_and_every_remark_stays(text) -> None:
    before = tomllib.loads(text)
    first, second = entry_texts(text, "die")
    assert tomllib.loads(first)["die"] == before["die"][:1]
    assert tomllib.loads(second)["die"] == before["die"][1:]
    grown = with_entry_text(text, "die", entry_changed(second, "die", {"name": "c", "od": 20}))
    assert [row["name"] for row in tomllib.loads(grown)["die"]] == ["a", "b", "c"]
    assert tomllib.loads(grown)["die"][2]["bends"] == before["die"][1]["bends"]
    assert grown.count("# odd") == 2
    for number in (0, 1):
        left = without_entry_text(text, "die", number)
        assert tomllib.loads(left)["die"] == [before["die"][1 - number]]
        for remark in ("# the shop's", "# between them", "# of the second die"):
            assert remark in left
    bare = without_entry_text(without_entry_text(text, "die", 0), "die", 0)
    assert tomllib.loads(bare) == {key: before[key] for key in ("tubing", "bender")}
    kept = with_entries_as_remarks(text, "die", [1], "put aside:")
    assert tomllib.loads(kept)["die"] == before["die"][:1]
    assert "# put aside:" in kept
    assert "#   [60, 58]," in kept


@pytest.mark.parametrize(
    "text",
    [
        'die = [{ name = "a" }]\n',
        'note = """\n[[die]]\n"""\n[[die]]\nname = "a"\n',
        "[[die]]\nname = 'a'\nbends = [\n[1],\n[2]\n]\n",
    ],
)
def test_a_file_that_cannot_be_told_apart_by_lines_is_refused(text) -> None:
    with pytest.raises(ValueError, match="text editor"):
        without_entry_text(text, "die", 0)


def test_an_entry_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="no die 6"):
        without_entry_text(APART, "die", 5)
