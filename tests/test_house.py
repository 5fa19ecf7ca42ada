"""The habits of the house, held by tests: small pieces, plain text, files that name no machine."""

import ast
import re
import subprocess
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

MODULE_LINES = 500
FUNCTION_LINES = 60
SLOW_LIBRARIES = {"OCP", "ezdxf", "numba", "scipy"}

PRIMES = "\u02b9\u02ba"  # feet and inches, as some keyboards and drawings write them

MACHINE_PATH = re.compile(r"(?<![\w./~-])/(?:work|root|farm|home/\w+|Users/\w+|tmp)/\w")
REGISTRY_HOST = re.compile(
    r"\b(?:pypi[.]org|pythonhosted[.]org|npmjs[.](?:org|com)|deb[.]debian[.]org|anaconda[.]org)\b",
    re.IGNORECASE,
)
# the files speak of bending tube, not of how they came to be written
WORKSHOP_TALK = re.compile(
    r"\b(?:contract|design|brief)[.]md\b"
    r"|\bas (?:requested|instructed) by\b"
    r"|\b(?:this|last|next|previous) session\b"
    r"|\bsub-?agents?\b"
    r"|\blanguage[ ]models?\b"
    r"|\bthe prompt said\b",
    re.IGNORECASE,
)


def committed_files() -> list[Path]:
    """Every file of the repository that is, or may yet be, committed."""
    try:
        listing = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            capture_output=True,
            check=True,
        ).stdout.decode()
    except (FileNotFoundError, subprocess.CalledProcessError):
        pytest.skip("not a git clone: nothing tells committed files from others")
    paths = (ROOT / name for name in listing.split("\0") if name)
    return [path for path in paths if path.is_file()]


def texts() -> Iterator[tuple[str, str]]:
    """Name and text of every committed file that is text."""
    for path in committed_files():
        data = path.read_bytes()
        if b"\0" not in data[:8000]:
            yield path.relative_to(ROOT).as_posix(), data.decode("utf-8")


def matches(pattern: re.Pattern[str]) -> list[str]:
    """Say where in the committed files the pattern is found."""
    return [
        f"{name}:{number}: {line.strip()[:100]}"
        for name, text in texts()
        for number, line in enumerate(text.splitlines(), 1)
        if pattern.search(line)
    ]


def python_files() -> list[Path]:
    """All Python of the house, the workshop script included."""
    return [path for path in committed_files() if path.suffix == ".py" or path == ROOT / "dev"]


def test_modules_are_short() -> None:
    long = {
        path.relative_to(ROOT).as_posix(): lines
        for path in python_files()
        if (lines := len(path.read_text("utf-8").splitlines())) > MODULE_LINES
    }
    assert not long, f"over {MODULE_LINES} lines"


def test_functions_are_short() -> None:
    long = [
        f"{path.relative_to(ROOT).as_posix()}:{node.lineno}: {node.name}"
        for path in python_files()
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (node.end_lineno or node.lineno) - node.lineno + 1 > FUNCTION_LINES
    ]
    assert not long, f"over {FUNCTION_LINES} lines"


def test_slow_libraries_are_imported_where_they_are_used() -> None:
    """A command that needs none of them starts at once."""
    early = [
        f"{path.relative_to(ROOT).as_posix()}: {name}"
        for path in python_files()
        if path.is_relative_to(ROOT / "src")
        for node in ast.parse(path.read_text("utf-8")).body
        for name in imported(node)
        if name.split(".")[0] in SLOW_LIBRARIES
    ]
    assert not early


def imported(node: ast.stmt) -> list[str]:
    """Modules that a statement imports."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    return [node.module or ""] if isinstance(node, ast.ImportFrom) else []


def test_text_hides_nothing() -> None:
    """No control or invisible characters; no letters that only look like Latin or Greek ones.

    Tests may hold names in any script, as people's files do.
    """
    odd = [
        f"{name}: U+{ord(char):04X} {unicodedata.name(char, '?')}"
        for name, text in texts()
        for char in sorted(set(text))
        if not plain(char, any_script=name.startswith("tests/"))
    ]
    assert not odd


def plain(char: str, *, any_script: bool = False) -> bool:
    """Whether a reader sees this character, and as what it is."""
    if char in "\n\t" or " " <= char <= "~" or char in PRIMES:
        return True
    kind = unicodedata.category(char)
    if kind[0] == "L" and not any_script:
        return unicodedata.name(char).split()[0] in {"LATIN", "GREEK", "MICRO", "SUPERSCRIPT"}
    return kind[0] in "LNPS" or kind == "Mn"


@pytest.mark.parametrize(
    ("char", "seen"),
    [
        ("a", True),
        ("°", True),
        ("θ", True),
        ("\u0430", False),
        ("\u00a0", False),
        ("\u200b", False),
    ],
)
def test_plain_tells_a_lookalike_from_a_letter(char: str, seen: bool) -> None:
    assert plain(char) is seen


def test_text_files_end_with_one_newline() -> None:
    untidy = [
        name
        for name, text in texts()
        if text and ("\r" in text or not text.endswith("\n") or text.endswith("\n\n"))
    ]
    assert not untidy


@pytest.mark.parametrize(
    ("pattern", "caught"),
    [
        (MACHINE_PATH, "open('" + "/home/" + "ann/job.toml')"),
        (REGISTRY_HOST, "https://" + "pypi." + "org/simple"),
        (WORKSHOP_TALK, "see " + "design." + "md"),
    ],
)
def test_patterns_catch_what_they_are_for(pattern: re.Pattern[str], caught: str) -> None:
    assert pattern.search(caught)


def test_no_file_names_a_machine_path() -> None:
    assert not matches(MACHINE_PATH)


def test_no_file_names_a_package_registry() -> None:
    assert not matches(REGISTRY_HOST)


def test_files_speak_of_the_project_alone() -> None:
    assert not matches(WORKSHOP_TALK)
