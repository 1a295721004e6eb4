"""Lines: exact amounts a piece, shares in range, and lists that contradict themselves."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from batches.bills.errors import (
    DimensionMismatchError,
    LineOfItselfError,
    LineTakesNothingError,
    LineTwiceError,
    PerPieceAmountError,
    RatioOutOfRangeError,
)
from batches.bills.operations import change_revision
from batches.bills.selectors.amounts import PerAmount, per_amount, shown_amount
from batches.bills.selectors.bills import bill_detail
from batches.bills.selectors.sheets import SheetItem, SheetLine, sheet_items
from batches.bills.steps.lines import LineDraft, fitted, per_piece_base
from inventory.catalog.operations import change_item
from shopfloor.errors import NotFoundError, ShopError
from shopfloor.models import User
from shopfloor.units import AmountTooLargeError, FractionOfPieceError, UnitMismatchError
from tests.batches.floor import (
    LATER,
    RUNNERS,
    amount,
    draft_bill,
    instead,
    line,
    share,
)


@pytest.fixture
def body_draft(floor_ready: None, lead: User) -> None:
    """An empty draft of the body's bill, at gluing."""
    draft_bill("BODY-70", "GLUING", by=lead)


@pytest.fixture
def glue_draft(floor_ready: None, lead: User) -> None:
    """An empty draft of the mixed adhesive's bill, at mixing."""
    draft_bill("GLUE", "MIXING", by=lead)


def written(item: str, by: User, *lines: LineDraft) -> tuple[SheetLine, ...]:
    """The lines as the database gives them back."""
    change_revision(item_code=item, number=1, lines=lines, by=by, at=LATER)
    return bill_detail(item, 1).sheet.lines


def the(code: str) -> SheetItem:
    return sheet_items([code])[code]


@pytest.mark.parametrize(
    ("item", "written_as", "base"),
    [
        ("RESIN", "4.2 g", "4200"),
        # NIST SP 811 (2008), Appendix B: 1 lb = 453.592 37 g.
        ("RESIN", "1 lb", "453592.37"),
        ("GLUE", "0.000000001 mg", "0.000000001"),
        ("GLUE", "0.0000000006 mg", "0.000000001"),
        ("RESIN", "999999.123456789 mg", "999999.123456789"),
        ("RESIN", "123456789.1234 mg", "123456789.123"),
        ("RESIN", "1000 kg", "1000000000"),
        ("PAINT-BASE", "0.35 mL", "350"),
        ("HANGER", "3 each", "3"),
        ("INSERT", "0.5 each", "0.5"),
        ("INSERT", "0.5 dozen", "6"),
        ("INSERT", "0.000000001 each", "0.000000001"),
    ],
)
def test_an_amount_a_piece_is_kept_exactly_and_comes_back_from_the_database(
    body_draft: None, lead: User, item: str, written_as: str, base: str
) -> None:
    lines = written("BODY-70", lead, line(item, written_as))
    assert [one.per_piece_base for one in lines] == [Decimal(base)]


@pytest.mark.parametrize(
    ("item", "amount_text", "error"),
    [
        ("GLUE", "0.0000000005 mg", PerPieceAmountError),
        ("RESIN", "1000.000001 kg", PerPieceAmountError),
        ("RESIN", "1000000000000 kg", AmountTooLargeError),
        ("INSERT", "0.0000000001 each", PerPieceAmountError),
        ("INSERT", "1000000001 each", PerPieceAmountError),
        ("INSERT", "5 g", UnitMismatchError),
        ("RESIN", "5 each", UnitMismatchError),
        ("RESIN", "5 mL", UnitMismatchError),
    ],
)
def test_an_amount_a_piece_that_cannot_be_kept_or_meant_is_refused(
    body_draft: None, item: str, amount_text: str, error: type[ShopError]
) -> None:
    with pytest.raises(error):
        per_piece_base(amount(amount_text), the(item))


def test_pieces_are_counted_not_weighed_even_where_their_mass_is_known(
    body_draft: None, lead: User
) -> None:
    change_item(code="HOOK-6", fields={"piece_mass_mg": Decimal(350)}, by=lead, at=LATER)
    with pytest.raises(PerPieceAmountError) as refused:
        per_piece_base(amount("700 mg"), the("HOOK-6"))
    assert refused.value.facts == {"item": "HOOK-6", "amount": "700", "unit": "mg"}


def test_what_goes_once_a_batch_is_whole_pieces(body_draft: None, lead: User) -> None:
    lines = written("BODY-70", lead, line("INSERT", "0.5 each", per_batch="2 each"))
    assert [one.per_batch_base for one in lines] == [2]
    with pytest.raises(FractionOfPieceError):
        written("BODY-70", lead, line("INSERT", "0.5 each", per_batch="2.5 each"))


@pytest.mark.parametrize(
    ("takes", "makes", "per_base"),
    [
        ("50 g", "100 g", "0.5"),
        ("1 g", "3 g", "0.333333333"),
        ("1 lb", "16 oz", "1"),
        ("2 kg", "1 g", "2000"),
    ],
)
def test_a_mixture_says_what_it_takes_for_how_much(
    glue_draft: None, lead: User, takes: str, makes: str, per_base: str
) -> None:
    lines = written("GLUE", lead, share("GLUE-A", takes, makes))
    assert [one.per_piece_base for one in lines] == [Decimal(per_base)]


def test_what_a_mixture_takes_reads_back_for_one_of_its_units(glue_draft: None, lead: User) -> None:
    found = written("GLUE", lead, share("GLUE-A", "60 g", "100 g"))[0]
    read = per_amount(found.per_piece_base, item=found.item, made=the("GLUE"))
    assert read == PerAmount(amount("0.6 g"), amount("1 g"))


def test_a_third_of_a_mixture_survives_being_read_and_written_again(
    glue_draft: None, lead: User
) -> None:
    found = written("GLUE", lead, share("GLUE-A", "1 g", "3 g"))[0]
    read = per_amount(found.per_piece_base, item=found.item, made=the("GLUE"))
    again = written("GLUE", lead, LineDraft(item_code="GLUE-A", per_amount=read))[0]
    assert again == found


def test_a_mixture_of_nothing_and_a_share_of_pieces_are_refused(
    glue_draft: None, body_draft: None, lead: User
) -> None:
    both = PerAmount(amount("1 g"), amount("2 g"))
    with pytest.raises(PerPieceAmountError):
        written("GLUE", lead, share("GLUE-A", "50 g", "0 g"))
    with pytest.raises(PerPieceAmountError):
        written(
            "GLUE", lead, LineDraft(item_code="GLUE-A", per_piece=amount("1 g"), per_amount=both)
        )
    with pytest.raises(PerPieceAmountError):
        written("BODY-70", lead, share("GLUE-A", "1 g", "2 g"))


@pytest.mark.parametrize(
    ("base", "item", "shown"),
    [
        ("4200", "RESIN", "0.0042 kg"),
        ("0.000000001", "RESIN", "0.000000001 mg"),
        ("42", "COLORANT", "0.042 g"),
        ("0.5", "INSERT", "0.5 each"),
        ("0", "RESIN", "0 kg"),
    ],
)
def test_an_amount_is_shown_in_the_items_unit_or_where_that_is_not_exact_in_its_base_unit(
    floor_ready: None, base: str, item: str, shown: str
) -> None:
    assert shown_amount(Decimal(base), the(item)) == amount(shown)


def test_a_line_takes_something(body_draft: None, lead: User) -> None:
    lines = written("BODY-70", lead, line("GLUE", per_batch="15 g"), line("HANGER", "1 each"))
    assert [one.per_piece_base for one in lines] == [Decimal(0), Decimal(1)]
    assert [one.per_batch_base for one in lines] == [15_000, 0]
    with pytest.raises(LineTakesNothingError) as refused:
        written("BODY-70", lead, line("GLUE", "0 g"))
    assert refused.value.facts == {"item": "GLUE"}


@pytest.mark.parametrize(
    "given",
    [
        {"loss_ratio": Decimal("0.99999")},
        {**RUNNERS, "value_ratio": Decimal("0.99999")},
        {"alternatives": (instead("REGRIND", "0.99999"),)},
        {"alternatives": (instead("COLORANT", "0.00001"),)},
        {"alternatives": (instead("COLORANT", "1"),)},
    ],
)
def test_the_last_share_in_range_is_kept(
    body_draft: None, lead: User, given: dict[str, Any]
) -> None:
    assert len(written("BODY-70", lead, line("RESIN", "4 g", **given))) == 1


@pytest.mark.parametrize(
    "given",
    [
        {"loss_ratio": Decimal(1)},
        {"loss_ratio": Decimal("-0.00001")},
        {"loss_ratio": Decimal("0.000001")},
        {"value_ratio": Decimal("0.1")},
        {**RUNNERS, "value_ratio": Decimal(1)},
        {**RUNNERS, "loss_ratio": Decimal("0.1")},
        {**RUNNERS, "alternatives": (instead("REGRIND", "0.2"),)},
        {"alternatives": (instead("REGRIND", "1"),)},
        {"alternatives": (instead("REGRIND", "0.000001"),)},
        {"alternatives": (instead("COLORANT", "1.00001"),)},
        {"alternatives": (instead("COLORANT", "0"),)},
    ],
)
def test_the_first_share_out_of_range_or_out_of_place_is_refused(
    body_draft: None, lead: User, given: dict[str, Any]
) -> None:
    with pytest.raises(RatioOutOfRangeError):
        written("BODY-70", lead, line("RESIN", "4 g", **given))


def test_alternatives_keep_their_order(body_draft: None, lead: User) -> None:
    others = (instead("REGRIND", "0.2"), instead("GLUE-A", "0.1"), instead("COLORANT"))
    found = written("BODY-70", lead, line("RESIN", "4 g", alternatives=others))[0]
    assert [(one.item.code, one.largest_ratio) for one in found.alternatives] == [
        ("REGRIND", Decimal("0.2")),
        ("GLUE-A", Decimal("0.1")),
        ("COLORANT", Decimal(1)),
    ]


def test_an_alternative_is_measured_like_what_it_stands_in_for(
    body_draft: None, lead: User
) -> None:
    with pytest.raises(DimensionMismatchError) as refused:
        written("BODY-70", lead, line("RESIN", "4 g", alternatives=(instead("THINNER"),)))
    assert refused.value.facts == {
        "item": "RESIN",
        "alternative": "THINNER",
        "dimension": "mass",
        "other": "volume",
    }


def test_an_item_stands_once_among_what_is_taken_and_once_among_what_comes_off(
    body_draft: None, lead: User
) -> None:
    lines = written("BODY-70", lead, line("REGRIND", "1 g"), line("REGRIND", "1 g", **RUNNERS))
    assert [one.role for one in lines] == ["taken", "by_product"]
    with pytest.raises(LineTwiceError) as refused:
        written("BODY-70", lead, line("RESIN", "1 g"), line("RESIN", "2 g"))
    assert refused.value.facts == {"items": ["RESIN"]}


@pytest.mark.parametrize("others", [("REGRIND", "REGRIND"), ("RESIN",)])
def test_an_alternative_stands_once_and_is_not_the_line_itself(
    body_draft: None, lead: User, others: tuple[str, ...]
) -> None:
    alternatives = tuple(instead(code, "0.2") for code in others)
    with pytest.raises(LineTwiceError):
        written("BODY-70", lead, line("RESIN", "4 g", alternatives=alternatives))


@pytest.mark.parametrize(
    "draft",
    [
        line("BODY-70", "1 each"),
        line("BODY-70", "1 each", **RUNNERS),
        line("HALF-L", "1 each", alternatives=(instead("BODY-70"),)),
    ],
)
def test_an_item_is_no_part_of_its_own_bill(body_draft: None, lead: User, draft: LineDraft) -> None:
    with pytest.raises(LineOfItselfError) as refused:
        written("BODY-70", lead, draft)
    assert refused.value.facts == {"item": "BODY-70"}


def test_unknown_items_are_named_all_at_once(body_draft: None, lead: User) -> None:
    with pytest.raises(NotFoundError) as refused:
        written(
            "BODY-70",
            lead,
            line("NONE-2", "1 each"),
            line("HALF-L", "1 each", alternatives=(instead("NONE-1"),)),
        )
    assert refused.value.facts == {"item": ["NONE-1", "NONE-2"]}


def test_a_refused_list_leaves_the_draft_as_it_was(body_draft: None, lead: User) -> None:
    before = written("BODY-70", lead, line("HALF-L", "1 each"), line("HALF-R", "1 each"))
    with pytest.raises(LineTwiceError):
        written("BODY-70", lead, line("RING", "1 each"), line("RING", "2 each"))
    assert bill_detail("BODY-70", 1).sheet.lines == before


@pytest.mark.parametrize(
    ("exact", "kept"),
    [
        (Fraction(15, 10**10), "0.000000002"),
        (Fraction(25, 10**10), "0.000000002"),
        (Fraction(2, 3), "0.666666667"),
        (Fraction(2 * 10**7, 3), "6666666.667"),
        (Fraction(10**9), "1000000000"),
    ],
)
def test_a_computed_amount_is_rounded_once_half_to_even(
    floor_ready: None, exact: Fraction, kept: str
) -> None:
    assert fitted(exact, the("RESIN")) == Decimal(kept)


@pytest.mark.parametrize("exact", [Fraction(5, 10**10), Fraction(10**9 + 1)])
def test_a_computed_amount_that_cannot_be_kept_is_refused(
    floor_ready: None, exact: Fraction
) -> None:
    with pytest.raises(PerPieceAmountError):
        fitted(exact, the("RESIN"))
