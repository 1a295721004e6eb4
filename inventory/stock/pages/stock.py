"""Pages of lots, holds and postings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.urls import path

from inventory.stock.api import books, lots
from shopfloor.screens import FILLED, Act, ActPage, Column, ListPage, Paper, Table, ThingPage, ask

_ON_HAND = "On hand"
_USE, _STOP, _CORRECT = "Use up", "Test or stop", "Correct"
_WHOLE = "Empty means the whole lot."


class LotsPage(ListPage):
    """Lots."""

    door = lots.LotsDoor
    title = "Lots"
    columns = (
        Column("code", "Lot", order="code"),
        Column("item", note="item_name"),
        Column("on_hand", _ON_HAND, order="on_hand_base"),
        Column("disposition"),
        Column("place"),
        Column("expires_at", "Expires", order="expires_at"),
        Column("value", order="value_micro"),
    )
    filters = ("item", "kind", "place", "supplier", "disposition", "is_on_hand")
    preset: ClassVar = {"is_on_hand": "true"}
    acts = (
        Act("Receive", "/receipts/new/", is_main=True),
        Act("Count", "/counts/new/"),
    )
    none = "Nothing is on the shelves. Receive a delivery, or bring your records in."


class LotPage(ThingPage):
    """One lot, its holds and its history."""

    door = lots.LotDoor
    title = "Lot"
    inner = "lot"
    hidden = ("code", "item_name")
    labels: ClassVar = {
        "born_at": "Since",
        "supplier_lot_code": "The supplier's lot",
        "split_from": "Part of",
        "discard_at": "Discard by",
    }
    tables = (
        Table("holds", "Holds"),
        Table(
            "history",
            "History",
            (
                Column("at", "When"),
                Column("kind", "What"),
                Column("document", "For"),
                Column("amount"),
                Column("value"),
                Column("before"),
                Column("after"),
                Column("reason", "Why"),
                Column("by"),
            ),
        ),
    )
    acts = (
        Act("Trace it", "/trace/?code={code}", door="", is_main=True),
        Act("Move", "move/"),
        Act("Count", "/counts/new/?lot={code}"),
        Act("Release", "release/", {"disposition": ["quarantined", "held", "rejected"]}),
        Act("Open", "open/", {"opened_at": [None], "disposition": ["released"]}, group=_USE),
        Act("Take a part off", "split/", group=_USE),
        Act("Throw away", "dispose/", group=_USE),
        Act("Hold", "hold/", {"disposition": ["released", "quarantined"]}, group=_STOP),
        Act("Reject", "reject/", {"disposition": ["quarantined", "held", "released"]}, group=_STOP),
        Act("Check it", "/checks/new/?lot={code}", {"supplier": [None, ""]}, group=_STOP),
        Act("Adjust", "adjust/", group=_CORRECT),
        Act("Later expiry", "extend-expiry/", group=_CORRECT),
        Act("Change its value", "revalue/", group=_CORRECT),
    )
    papers = (Paper("lots", "Sticker"),)


class _LotAct(ActPage):
    """What is done to one lot; the form begins with its unit."""

    done = "Done."

    def initial(self) -> dict[str, Any]:
        """The unit the lot is shown in."""
        return {"unit": self.lot()["on_hand"]["unit"]}

    def lot(self) -> Mapping[str, Any]:
        """The lot."""
        lot: Mapping[str, Any] = ask(self.request, f"lots/{self.kwargs['code']}/")["lot"]
        return lot


class OpenForm(_LotAct):
    """Open a container."""

    door = lots.OpenDoor
    title = "Open"
    says = "Its opened life begins. Of several containers in one lot, name the amount you open."
    helps: ClassVar = {"amount": _WHOLE}


class MoveForm(_LotAct):
    """Put it elsewhere."""

    door = lots.MoveDoor
    title = "Move"
    first = ("place", "amount")
    helps: ClassVar = {"amount": _WHOLE}


class SplitForm(_LotAct):
    """Take a part off."""

    door = lots.SplitDoor
    title = "Take a part off"
    says = "The part becomes a lot of its own, with the history of this one."
    first = ("amount", "place")


class HoldForm(_LotAct):
    """Hold it."""

    door = lots.HoldDoor
    title = "Hold"
    says = "Stops this lot, and everything it flowed into that is still ours."
    button = "Hold all of it"


class ReleaseForm(_LotAct):
    """Release it."""

    door = lots.ReleaseDoor
    title = "Release"
    says = "Say why it may be used. Your name is kept."


class RejectForm(_LotAct):
    """Reject it."""

    door = lots.RejectDoor
    title = "Reject"
    says = "It may no longer be used; it can go back to the supplier or be thrown away."


class DisposeForm(_LotAct):
    """Throw it away."""

    door = lots.DisposeDoor
    title = "Throw away"
    says = "Follow the safety data sheet and local codes. The amount leaves the books as a loss."


class ExtendForm(_LotAct):
    """A later expiry."""

    door = lots.ExtendExpiryDoor
    title = "Later expiry"
    says = "After a test. Say which test and what it showed."


class AdjustForm(_LotAct):
    """Correct it."""

    door = lots.AdjustDoor
    title = "Adjust"
    says = "For what no entry can be reversed for and no count explains. Below zero takes away."


class RevalueForm(_LotAct):
    """Late freight, an invoice difference."""

    door = lots.RevalueDoor
    title = "Change its value"
    says = "Late freight or an invoice difference, on what is left. Below zero takes away."


class HoldsPage(ListPage):
    """Holds."""

    door = books.HoldsDoor
    title = "Holds"
    columns = (
        Column("code", "Hold"),
        Column("lot"),
        Column("reason", "Why"),
        Column("lots_stopped", "Lots stopped"),
        Column("at", "Since"),
        Column("by"),
        Column("released_at", "Ended"),
    )
    filters = ("lot", "is_open")
    preset: ClassVar = {"is_open": "true"}
    none = "Nothing is held."


class HoldPage(ThingPage):
    """One hold and the lots it stopped."""

    door = books.HoldPageDoor
    title = "Hold"
    inner = "hold"
    acts = (
        Act("Release", "release/", {"released_at": [None]}, is_main=True),
        Act("Trace its lot", "/trace/?code={lot}", door=""),
    )
    tables = (
        Table(
            "lots",
            "Lots",
            (
                Column("code", "Lot", to="lots"),
                Column("item", note="item_name"),
                Column("on_hand", _ON_HAND),
                Column("disposition"),
                Column("place"),
                Column("supplier"),
                Column("supplier_lot_code", "The supplier's lot"),
                Column("expires_at", "Expires"),
            ),
        ),
    )
    papers = (Paper("holds", "Hold tags"),)


class HoldReleaseForm(ActPage):
    """End a hold."""

    door = books.HoldReleaseDoor
    title = "Release"
    says = "Ends the hold for every lot it stopped. Say why; your name is kept."


class PostingPage(ThingPage):
    """One posting and its movements."""

    door = books.PostingDoor
    title = "Posting"
    labels: ClassVar = {"reversed_by": "Undone by", "counted_in": "Count"}
    to: ClassVar = {"counted_in": "counts"}
    tables = (Table("movements", "Movements"),)
    acts = (
        Act(
            "Undo the count",
            "/counts/{counted_in}/reverse/",
            {"counted_in": FILLED, "reversed_by": [None]},
        ),
    )


urlpatterns = [
    path("lots/", LotsPage.as_view()),
    path("lots/<str:code>/", LotPage.as_view()),
    path("lots/<str:code>/open/", OpenForm.as_view()),
    path("lots/<str:code>/move/", MoveForm.as_view()),
    path("lots/<str:code>/split/", SplitForm.as_view()),
    path("lots/<str:code>/hold/", HoldForm.as_view()),
    path("lots/<str:code>/release/", ReleaseForm.as_view()),
    path("lots/<str:code>/reject/", RejectForm.as_view()),
    path("lots/<str:code>/dispose/", DisposeForm.as_view()),
    path("lots/<str:code>/extend-expiry/", ExtendForm.as_view()),
    path("lots/<str:code>/adjust/", AdjustForm.as_view()),
    path("lots/<str:code>/revalue/", RevalueForm.as_view()),
    path("holds/", HoldsPage.as_view()),
    path("holds/<str:code>/", HoldPage.as_view()),
    path("holds/<str:code>/release/", HoldReleaseForm.as_view()),
    path("postings/<str:code>/", PostingPage.as_view()),
]
