"""Read bench files, and the starter benches that come with soapstone."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from soapstone.bench.materials import MATERIALS, Material, material
from soapstone.bench.model import Bench
from soapstone.bench.trials import Trial
from soapstone.bench.values import Known
from soapstone.errors import InputError
from soapstone.faults import Fault, key_name, model_faults, near, refuse_faults
from soapstone.textfiles import one_line, parse_toml, read_toml

_STARTER_FOLDER = Path(__file__).parent / "starter"
STARTERS = {"mm": "metric.toml", "in": "inch.toml"}


def read_bench(path: Path | str) -> Bench:
    """Read a bench file, with the trial bends that it keeps in files beside it.

    Raises
    ------
    InputError
        One line that names the file and, key by key, all that is wrong with it.
    """
    path = Path(path)
    return bench_from_tables(read_toml(path), path, path.parent).at_path(path)


def bench_from_text(text: str, where: str = "bench") -> Bench:
    """Read the text of a bench file; `where` names it in errors. Trials in files are a fault."""
    return bench_from_tables(parse_toml(text, where), where, None)


def starter_bench(units: str = "mm") -> Bench:
    """Give the bench of generic tooling, in mm or inches, for a shop that has none of its own."""
    return bench_from_text(starter_text(units), f"the starter bench ({units})")


def starter_text(units: str = "mm") -> str:
    """Give the starter bench as the text of a file, with remarks, to start one's own from."""
    if units not in STARTERS:
        raise ValueError('units are "mm" or "in"')
    return (_STARTER_FOLDER / STARTERS[units]).read_text(encoding="utf-8")


def bench_from_tables(raw: dict[str, Any], where: Path | str, folder: Path | None) -> Bench:
    """Read a bench from its tables as TOML gives them; `where` names it in errors."""
    units = raw.get("units")
    known = Known(units="in" if units == "in" else "mm", folder=folder)
    faults = [*twice(raw, "die"), *twice(raw, "tubing"), *twice(raw, "material")]
    faults += _unknown_materials(raw)
    try:
        bench = Bench.model_validate(raw, context=known, by_name=False, by_alias=True)
    except ValidationError as error:
        raise refuse_faults(where, [*model_faults(Bench, error, raw), *faults]) from None
    if faults:
        raise refuse_faults(where, faults)
    return _with_trial_files(bench, where, folder)


def twice(raw: dict[str, Any], table: str) -> Iterator[Fault]:
    """Find entries of a list of tables that bear the name of one before them."""
    seen: set[str] = set()
    for key, entry in entries(raw, table):
        name = entry.get("name")
        if not isinstance(name, str):
            continue
        if name.strip() in seen:
            yield Fault(key, "expected another name, this one stands twice")
        seen.add(name.strip())


def entries(raw: dict[str, Any], table: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Go through a list of tables of a file not yet checked: key of each entry, and the entry."""
    rows = raw.get(table)
    for place, entry in enumerate(rows if isinstance(rows, list) else ()):
        if isinstance(entry, dict):
            yield key_name(raw, (table, place)), entry


def _unknown_materials(raw: dict[str, Any]) -> Iterator[Fault]:
    names = [str(entry.get("name", "")) for _, entry in entries(raw, "material")]
    own = [Material(name, 1.0, 1.0, 1.0, "") for name in names]
    for key, entry in entries(raw, "tubing"):
        named = entry.get("material")
        if isinstance(named, str) and named.strip():
            try:
                material(named, own)
            except InputError:
                hint = near(named, [*names, *(known.name for known in MATERIALS)])
                what = f'no material "{one_line(named[:40])}" is known{hint}'
                yield Fault(f"{key}.material", f"{what}; a [[material]] of the bench can add it")


def _with_trial_files(bench: Bench, where: Path | str, folder: Path | None) -> Bench:
    """Put in the trial bends that stand in files of their own, one trial to a lot."""
    if not any(trial.file for trial in bench.trials):
        return bench
    if folder is None:
        raise refuse_faults(
            where, [Fault("trial.file", "expected bends, other files are not read")]
        )
    trials: list[Trial] = []
    for trial in bench.trials:
        trials.extend(_from_file(trial, folder) if trial.file else [trial])
    return bench.model_copy(update={"trials": tuple(trials)})


def _from_file(trial: Trial, folder: Path) -> Sequence[Trial]:
    """Give the trials of a file beside the bench, one to a lot; its column goes before the key."""
    from soapstone.bench.trials_csv import read_trials

    assert trial.file is not None
    found = read_trials(folder / trial.file)
    lots = dict.fromkeys(found.lots)
    return [
        trial.model_copy(
            update={
                "lot": lot or trial.lot,
                "bends": tuple(
                    (dial, angle)
                    for dial, angle, own in zip(found.dials, found.angles, found.lots, strict=True)
                    if own == lot
                ),
            }
        )
        for lot in lots
    ]
