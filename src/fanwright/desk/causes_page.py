"""What the page of causes shows of a visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fanwright.desk.bay_data import causes_of
from fanwright.desk.shop import Shop
from fanwright.report.pictures import chain
from fanwright.report.say import Reader, say
from fanwright.visit import Assessment, assess

if TYPE_CHECKING:
    from fanwright.records.store import Store


def bay_causes(store: Store, number: int, shop: Shop, reader: Reader) -> dict[str, Any]:
    """Give the causes of a bay visit as it stands.

    Args:
        store: The records.
        number: The bay visit.
        shop: The shop's own data.
        reader: Who reads.

    Returns:
        What the page shows.

    Raises:
        NotThere: There is no such visit.
        InputError: The visit cannot be read.
    """
    from fanwright.desk.bay import assessed
    from fanwright.records.bay import load

    return causes_shown(assessed(store, load(store, number), shop), reader)


def kept_causes(store: Store, number: int, shop: Shop, reader: Reader) -> dict[str, Any]:
    """Give the causes of a kept visit, from its readings and what is known today.

    Args:
        store: The records.
        number: The visit.
        shop: The shop's own data.
        reader: Who reads.

    Returns:
        What the page shows.

    Raises:
        InputError: There is no such visit.
    """
    from fanwright.desk.bay import learned
    from fanwright.desk.kept_pages import kept_page

    held = kept_page(store, number, shop).assessment
    if held is None:
        return causes_shown(None, reader)
    return causes_shown(assess(held.visit, learned(store, shop), shop.limits, held.evidence), reader)


def causes_shown(assessment: Assessment | None, reader: Reader) -> dict[str, Any]:
    """Give what the page shows of an assessment.

    Args:
        assessment: The assessment; None where no visit file was kept.
        reader: Who reads.

    Returns:
        Causes with what speaks for and against each, the chain of reasoning as a drawing, the next tests, the
        order of repair.
    """
    if assessment is None or assessment.diagnosis is None:
        return {
            "unit": "", "found": False, "svg": "", "causes": [], "leading_to": [], "repair_order": [],
            "doubts": [], "alike": [], "next": [], "stop": "",
        }  # fmt: skip
    found = assessment.diagnosis
    return {
        "unit": assessment.visit.unit,
        "found": True,
        "svg": chain.draw_assessment(assessment, "screen", reader),
        **causes_of(assessment, reader),
        "alike": [say(one.why, reader) for one in found.alike],
        "next": [
            {
                "label": reader.words(reader.catalogue.tests[one.test].label),
                "minutes": round(one.minutes, 1),
                "worth_usd": round(one.worth_usd, 2),
                "why": say(one.why, reader),
            }
            for one in found.next_tests
        ],
        "stop": "" if found.stop is None else say(found.stop, reader),
    }
