"""The benches of a shop, to go from one to another."""

from urllib.parse import quote

from soapstone.web.bench_desk import OWN, BenchDesk, Benches
from soapstone.web.look import block


def which_bench(benches: Benches, desk: BenchDesk, address: str) -> None:
    """Show a tab for each bench, on a page at an address, where there are several."""
    names = benches.names()
    if len(names) < 2:
        return
    with block("nav", "tabs", aria_label="Which bench"):
        for name in names:
            here = {"aria_current": "page"} if benches.open(name) is desk else {}
            word = "the shop's own" if name == OWN else name
            block("a", "tab", word, href=f"{address}?which={quote(name)}", **here)
