"""The printed pack of a job: cover, room, a sheet for each tube, cards for bends, wrap bands."""

import re
from typing import Any

from soapstone.sheets.band_pages import band_page
from soapstone.sheets.bend_card import bend_card
from soapstone.sheets.contents import PackContents
from soapstone.sheets.cope_pages import wrap_pages
from soapstone.sheets.cover import cover_page
from soapstone.sheets.cut_page import cut_page
from soapstone.sheets.hands import pair_hands
from soapstone.sheets.room_page import room_page
from soapstone.sheets.tube_sheet import tube_sheet
from soapstone.sheets.typesetting import to_pdf
from soapstone.sheets.words import plain, shortened

_COUNT = re.compile(rb"/Type\s*/Pages\b[^>]*?/Count\s+(\d+)|/Count\s+(\d+)[^>]*?/Type\s*/Pages\b")


def make_pack(contents: PackContents) -> bytes:
    """Print a job: the PDF of its pack, the same bytes for the same contents.

    Raises
    ------
    TypesettingError
        The templates could not be set: a fault of the program, never of the data.
    """
    return to_pdf(pack_data(contents))


def pack_data(contents: PackContents) -> dict[str, Any]:
    """Give the pack's pages as data for the templates."""
    pairs = pair_hands(contents.tubes)
    pages = [cover_page(contents, pairs)]
    if room := room_page(contents):
        pages.append(room)
    if contents.cuts:
        pages.append(cut_page(contents.cuts, contents.units))
    for hands in pairs:
        pages.append(tube_sheet(contents, hands))
        pages += [
            bend_card(contents, hands, place)
            for place, step in enumerate(hands.first.bends)
            if step.n not in hands.first.made
        ]
    bent = [hands for hands in pairs if hands.first.bends]
    if bent:
        pages.append(band_page(contents, bent))
    if contents.copes:
        ods = {tube.name: tube.setup.od for tube in contents.tubes}
        pages += wrap_pages(contents.copes, ods, contents.units)
    return {
        "job": plain(contents.job),
        "paper": contents.paper,
        "units": contents.units,
        "notice": shortened(contents.date, 40),
        "pages": pages,
    }


def page_count(pdf: bytes) -> int:
    """Count the pages of a pack, from the page tree's root entry."""
    return max(int(one or other) for one, other in _COUNT.findall(pdf))
