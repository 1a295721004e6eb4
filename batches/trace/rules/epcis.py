"""A trace as an EPCIS 2.0 document (ISO/IEC 19987) in the words of CBV 2.0 (ISO/IEC 19988).

Received, shipped, returned, sent back, disposed of, counted, adjusted, held, rejected and released
are ObjectEvents; made, mixed, split and moved TransformationEvents; put into a box, taken out of
it, and boxes that left in another one AggregationEvents. The schema lets three faults pass that are
looked after here: boxing names its box, amounts are above zero, and there is an event at all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from decimal import Decimal
from types import MappingProxyType
from typing import Any, Final
from urllib.parse import quote

from batches.trace.rules.happenings import (
    Amount,
    Begun,
    Boxed,
    BoxName,
    Corrected,
    Disposed,
    Happened,
    Held,
    Judged,
    Made,
    Received,
    Returned,
    Sent,
    SentBack,
    Stacked,
)
from shopfloor.codes.errors import CompanyPrefixError
from shopfloor.codes.gs1.numbers import CompanyPrefix
from shopfloor.codes.gs1.urns import box_urn, lot_urn
from shopfloor.errors import ShopError

CONTEXT: Final = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
SCHEMA_VERSION: Final = "2.0"

UOM: Final = {"mass": ("KGM", 6), "volume": ("LTR", 6), "length": ("MTR", 3), "count": ("", 0)}
"""UN/ECE Recommendation 20 unit of each dimension, and how many places a base unit is below it."""

Event = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Names:
    """How things are named in a document.

    Attributes:
        own: Where our own names begin, with a slash at its end: `https://HOST/api/v1/`.
        prefix: The licensed company prefix; without one all names are our own.
    """

    own: str
    prefix: CompanyPrefix | None

    def of(self, kind: str, code: str) -> str:
        """Our own name of anything."""
        return f"{self.own}{kind}/{quote(code, safe='')}/"

    def lot(self, amount: Amount) -> str:
        """GS1's name where the article has a GTIN of our prefix and the code fits (10)."""
        if self.prefix is not None and amount.gtin:
            try:
                return lot_urn(gtin=amount.gtin, lot_code=amount.lot, prefix=self.prefix)
            except ShopError:
                pass  # another company's GTIN, or a long code of ours
        return self.of("lots", amount.lot)

    def box(self, box: BoxName) -> str:
        """GS1's name where it has an SSCC of our prefix."""
        if self.prefix is not None and box.sscc:
            try:
                return box_urn(sscc=box.sscc, prefix=self.prefix)
            except CompanyPrefixError:
                pass  # of a prefix that the shop had before
        return self.of("boxes", box.code)


def document(
    happened: Sequence[Happened],
    *,
    names: Names,
    made_at: datetime,
    zone: tzinfo,
) -> Event:
    """The document, oldest event first.

    Args:
        happened: At least one.
        names: How things are named.
        made_at: When the document is made.
        zone: The shop's.
    """
    assert happened
    events = [
        EVENTS[type(each)](each, names) | _when(each.at, zone)
        for each in sorted(happened, key=lambda each: each.at)
    ]
    return {
        "@context": [CONTEXT],
        "type": "EPCISDocument",
        "schemaVersion": SCHEMA_VERSION,
        "creationDate": _utc(made_at),
        "epcisBody": {"eventList": events},
    }


def _received(happened: Received, names: Names) -> Event:
    name = names.of("receipts", happened.code)
    orders = (
        [_transaction("po", names.of("supplier-orders", happened.order))] if happened.order else []
    )
    return {
        **_object(f"{name}#receiving", "receiving", "in_progress"),
        "quantityList": _quantities(happened.lots, names),
        "bizTransactionList": [*orders, _transaction("recadv", name)],
        **_passed(names.of("suppliers", happened.supplier), names.own),
    }


def _made(happened: Made, names: Names) -> Event:
    name = names.of("postings", happened.code)
    made = {"outputQuantityList": _quantities(happened.made, names)} if happened.made else {}
    batch = (
        {"bizTransactionList": [_transaction("prodorder", names.of("batches", happened.batch))]}
        if happened.batch
        else {}
    )
    return {
        "type": "TransformationEvent",
        "eventID": f"{name}#making",
        "transformationID": name,
        "inputQuantityList": _quantities(happened.taken, names),
        **made,
        "bizStep": "commissioning",
        "disposition": "active",
        **batch,
    }


def _boxed(happened: Boxed, names: Names) -> Event:
    step = "unpacking" if happened.is_out else "packing"
    return {
        "type": "AggregationEvent",
        "eventID": f"{names.of('boxes', happened.box.code)}#{step}-{quote(happened.code, safe='')}",
        "action": "DELETE" if happened.is_out else "ADD",
        "parentID": names.box(happened.box),
        "childQuantityList": _quantities(happened.lots, names),
        "bizStep": step,
        "disposition": "in_progress",
    }


def _sent(happened: Sent, names: Names) -> Event:
    name = names.of("shipments", happened.code)
    boxes = {"epcList": [names.box(box) for box in happened.boxes]} if happened.boxes else {}
    lots = {"quantityList": _quantities(happened.lots, names)} if happened.lots else {}
    return {
        **_object(f"{name}#shipping", "shipping", "in_transit"),
        **boxes,
        **lots,
        "bizTransactionList": [_transaction("desadv", name)],
        **_passed(names.own, names.of("customers", happened.customer)),
    }


def _stacked(happened: Stacked, names: Names) -> Event:
    shipment = names.of("shipments", happened.code)
    return {
        "type": "AggregationEvent",
        "eventID": f"{shipment}#in-{quote(happened.box.code, safe='')}",
        "action": "OBSERVE",
        "parentID": names.box(happened.box),
        "childEPCs": [names.box(box) for box in happened.boxes],
        "bizStep": "shipping",
        "disposition": "in_transit",
        "bizTransactionList": [_transaction("desadv", shipment)],
    }


def _returned(happened: Returned, names: Names) -> Event:
    name = names.of("postings", happened.code)
    return {
        **_object(f"{name}#returning", "receiving", "returned"),
        "quantityList": _quantities(happened.lots, names),
        "bizTransactionList": [_transaction("desadv", names.of("shipments", happened.shipment))],
        **_passed(names.of("customers", happened.customer), names.own),
    }


def _sent_back(happened: SentBack, names: Names) -> Event:
    name = names.of("postings", happened.code)
    return {
        **_object(f"{name}#sending-back", "shipping", "returned"),
        "quantityList": _quantities(happened.lots, names),
        "bizTransactionList": [_transaction("desadv", name)],
        **_passed(names.own, names.of("suppliers", happened.supplier)),
    }


def _disposed(happened: Disposed, names: Names) -> Event:
    name = names.of("postings", happened.code)
    return {
        **_object(f"{name}#destroying", "destroying", "destroyed", action="DELETE"),
        "quantityList": _quantities(happened.lots, names),
    }


def _corrected(happened: Corrected, names: Names) -> Event:
    side, action = ("more", "ADD") if happened.is_more else ("less", "DELETE")
    name = f"{names.of('postings', happened.code)}#{side}"
    step = "cycle_counting" if happened.is_counted else "other"
    return {
        **_object(name, step, "mismatch_quantity", action=action),
        "quantityList": _quantities(happened.lots, names),
    }


def _begun(happened: Begun, names: Names) -> Event:
    name = names.of("postings", happened.code)
    return {
        **_object(f"{name}#beginning", "commissioning", "active", action="ADD"),
        "quantityList": _quantities(happened.lots, names),
    }


def _held(happened: Held, names: Names) -> Event:
    name = names.of("holds", happened.code)
    told = (
        _object(f"{name}#releasing", "inspecting", "available")
        if happened.is_over
        else _object(f"{name}#holding", "holding", "non_sellable_other")
    )
    return {**told, "quantityList": _whole(happened.lots, names)}


def _judged(happened: Judged, names: Names) -> Event:
    name = f"{names.of('lots', happened.lot.lot)}#judged-{happened.number}"
    disposition = "non_conformant" if happened.is_rejected else "available"
    return {
        **_object(name, "inspecting", disposition),
        "quantityList": _whole([happened.lot], names),
    }


EVENTS: Final[Mapping[type[Happened], Callable[[Any, Names], Event]]] = MappingProxyType(
    {
        Received: _received,
        Made: _made,
        Boxed: _boxed,
        Sent: _sent,
        Stacked: _stacked,
        Returned: _returned,
        Disposed: _disposed,
        Held: _held,
        SentBack: _sent_back,
        Corrected: _corrected,
        Begun: _begun,
        Judged: _judged,
    }
)


def _object(name: str, step: str, disposition: str, *, action: str = "OBSERVE") -> Event:
    return {
        "type": "ObjectEvent",
        "eventID": name,
        "action": action,
        "bizStep": step,
        "disposition": disposition,
    }


def _passed(source: str, destination: str) -> Event:
    """From whose hands into whose."""
    return {
        "sourceList": [_party("source", source)],
        "destinationList": [_party("destination", destination)],
    }


def _transaction(kind: str, name: str) -> dict[str, str]:
    return {"type": kind, "bizTransaction": name}


def _party(side: str, name: str) -> dict[str, str]:
    return {"type": "possessing_party", side: name}


def _quantities(amounts: Sequence[Amount], names: Names) -> list[dict[str, Any]]:
    return [{"epcClass": names.lot(amount), **_quantity(amount)} for amount in amounts]


def _whole(amounts: Sequence[Amount], names: Names) -> list[dict[str, Any]]:
    """Lots, whatever is left of them."""
    return [{"epcClass": names.lot(amount)} for amount in amounts]


def _quantity(amount: Amount) -> dict[str, Any]:
    assert amount.qty_base > 0
    uom, places = UOM[amount.dimension]
    if not uom:
        return {"quantity": amount.qty_base}
    number = Decimal(amount.qty_base).scaleb(-places)
    # At most 15 digits, so a JSON number reads back as exactly this.
    return {"quantity": float(number), "uom": uom}


def _when(at: datetime, zone: tzinfo) -> dict[str, str]:
    return {"eventTime": _utc(at), "eventTimeZoneOffset": _offset(at.astimezone(zone))}


def _utc(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _offset(at: datetime) -> str:
    ahead = at.utcoffset() or timedelta()
    minutes = abs(ahead) // timedelta(minutes=1)
    return f"{'-' if ahead < timedelta() else '+'}{minutes // 60:02}:{minutes % 60:02}"
