"""What the documents say is so: links lead somewhere, named code exists, output is as shown."""

import ast
import re
import shlex
import shutil
from pathlib import Path

import pytest

from soapstone.cli.app import COMMANDS
from tests.cli.running import soapstone

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "soapstone"
DOCUMENTS = [ROOT / "README.md", ROOT / "CHANGELOG.md", *sorted((ROOT / "docs").rglob("*.md"))]
TUTORIAL = ROOT / "docs" / "tutorial.md"
TYPED = "# stern-arch/"
"""How a file begins that the reader is to type."""

BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)

documents = pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)


@documents
def test_links_lead_somewhere(document: Path) -> None:
    links = re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", document.read_text("utf-8"))
    assert [link for link in links if not (document.parent / link).exists()] == []


@documents
def test_links_within_a_page_name_its_headings(document: Path) -> None:
    text = document.read_text("utf-8")
    titles = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    anchors = {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}
    assert set(re.findall(r"\]\(#([^)]+)\)", text)) <= anchors


@documents
def test_code_that_is_named_exists(document: Path) -> None:
    text = " ".join(document.read_text("utf-8").split())
    for name, function in re.findall(r"`([\w/]+\.py)(?:: (\w+))?`", text):
        found = [place / name for place in (ROOT, SOURCE) if (place / name).is_file()]
        assert found, f"{name} is no file"
        assert not function or function in defined(found[0]), f"{function} is not in {name}"


def defined(path: Path) -> set[str]:
    """Functions and classes of a file."""
    kinds = (ast.FunctionDef, ast.ClassDef)
    return {
        node.name for node in ast.parse(path.read_text("utf-8")).body if isinstance(node, kinds)
    }


def test_the_readme_lists_every_command() -> None:
    listed = re.findall(
        r"^\| `soapstone (\w+)", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE
    )
    assert sorted(listed) == sorted(COMMANDS)


def test_the_tutorial_shows_what_the_commands_say(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every command is run, in order; of each output that is shown, every line was printed.

    Files that it has the reader type are typed, and changed where it shows a change.
    """
    monkeypatch.chdir(tmp_path)
    said, compared, typed = "", 0, Path()
    for language, block in BLOCK.findall(TUTORIAL.read_text("utf-8")):
        if block.startswith("./dev "):
            words = shlex.split(block.replace("\\\n", " "))[1:]
            told = soapstone(*(words[1:] if words[0] == "run" else words))
            assert told.code < 2, told.err
            said = timeless(told.err + told.out)
        elif block.startswith("cp "):
            shutil.copy(*block.split()[1:])
        elif block.startswith(TYPED):
            typed = Path(block.split()[1])
            typed.write_text(block, "utf-8")
        elif language == "diff":
            typed.write_text(changed(typed.read_text("utf-8"), block), "utf-8")
        elif not language and said and not block.startswith(("dial,", "soapstone: ")):
            there = [line.rstrip() for line in said.splitlines()]
            shown = timeless(block).splitlines()
            assert [line for line in shown if line.rstrip() not in there] == []
            compared += 1
    assert compared == 10
    assert (tmp_path / "stern-arch" / "pack.pdf").is_file()


def timeless(text: str) -> str:
    """Leave out how long a search took."""
    return re.sub(r"found in [0-9.]+ s", "found", text)


def changed(text: str, block: str) -> str:
    """Make a change that is shown as a diff of one hunk."""
    lines = block.splitlines()
    old = "\n".join(line[1:] for line in lines if line[0] in " -")
    assert text.count(old) == 1
    return text.replace(old, "\n".join(line[1:] for line in lines if line[0] in " +"))


def test_the_tutorial_shows_how_a_slip_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert soapstone("new", "my-job.toml").code == 0
    job = Path("my-job.toml")
    job.write_text(job.read_text("utf-8").replace("[0, 300, 850],", "[0, 300],"), "utf-8")
    told = soapstone("plan", "my-job.toml")
    assert told.code == 2
    assert told.err in TUTORIAL.read_text("utf-8")


def test_the_tutorial_quotes_the_demos_own_files() -> None:
    """Lines of TOML and CSV that it shows stand in the demo's files."""
    demo = "".join(
        path.read_text("utf-8") for path in (SOURCE / "demo").glob("*.*") if path.suffix != ".py"
    )
    there = {plain(line) for line in demo.splitlines()}
    quoted = [
        plain(line)
        for language, block in BLOCK.findall(TUTORIAL.read_text("utf-8"))
        if (language == "toml" and not block.startswith(TYPED)) or block.startswith("dial,")
        for line in block.splitlines()
    ]
    assert [line for line in quoted if line not in there | {"", "..."}] == []


def plain(line: str) -> str:
    """A line without its remark and its indent."""
    return line.split("#", maxsplit=1)[0].strip()
