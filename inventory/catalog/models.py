"""What we buy, make and use, where it stands, what makes it and who sells it.

No amount on hand lives here.
"""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from shopfloor.append_only import AppendOnly

CODE_LENGTH = 24
LIFE_DAYS_MAX = 36_500
"""A hundred years: longer is a slip, and a day must stay one that a calendar has."""
LIFE_MINUTES_MAX = LIFE_DAYS_MAX * 24 * 60


class ItemKind(models.TextChoices):
    """What an item is to the shop."""

    RESIN = "resin"
    COLORANT = "colorant"
    REGRIND = "regrind"
    HOOK = "hook"
    SPLIT_RING = "split_ring"
    EYE = "eye"
    HARDWARE = "hardware"
    PAINT = "paint"
    THINNER = "thinner"
    ADHESIVE = "adhesive"
    PACKAGING = "packaging"
    HALF = "half"
    BODY = "body"
    PAINTED_BODY = "painted_body"
    LURE = "lure"
    SET = "set"
    OTHER = "other"


class DimensionKind(models.TextChoices):
    """The kind of unit an item is kept in; base units are mg, uL, pieces and mm."""

    MASS = "mass"
    VOLUME = "volume"
    COUNT = "count"
    LENGTH = "length"


class PlaceKind(models.TextChoices):
    """What sort of place holds a lot."""

    SHELF = "shelf"
    BENCH = "bench"
    BOX = "box"
    OUTSIDE = "outside"


class EquipmentKind(models.TextChoices):
    """What sort of equipment made, held or painted the pieces."""

    PRESS = "press"
    MOLD = "mold"
    CAVITY = "cavity"
    WHEEL = "wheel"
    STATION = "station"
    BOOTH = "booth"
    OTHER = "other"


PART_OF = {EquipmentKind.CAVITY: EquipmentKind.MOLD, EquipmentKind.STATION: EquipmentKind.WHEEL}
"""What a part belongs to; nothing else has a parent or a number."""


class Arrival(models.TextChoices):
    """The disposition a lot of this item is born with when it is received."""

    RELEASED = "released"
    QUARANTINED = "quarantined"


class LureModel(models.Model):
    """A lure as designed: its shape, whatever its colors."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    length_mm = models.PositiveIntegerField(null=True, blank=True)
    painted_area_mm2 = models.PositiveIntegerField(
        null=True, blank=True, help_text="Square millimeters that paint covers on one lure."
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(painted_area_mm2__isnull=True) | Q(painted_area_mm2__gt=0),
                name="model_painted_area_positive",
            )
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Colorway(models.Model):
    """How a lure is painted, whatever its shape."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Place(models.Model):
    """A shelf, a bench, a box, or an outside party's premises."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=PlaceKind.choices)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Equipment(models.Model):
    """A press, a mold and its cavities, a wheel and its stations, a booth."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=EquipmentKind.choices)
    parent = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="parts"
    )
    number = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="Number of a cavity in its mold, of a station on its wheel.",
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]
        verbose_name_plural = "equipment"
        constraints = [
            models.UniqueConstraint(
                fields=["parent", "number"],
                condition=Q(number__isnull=False),
                name="equipment_number_once_in_parent",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["cavity", "station"], parent__isnull=False, number__gt=0)
                | (
                    ~Q(kind__in=["cavity", "station"]) & Q(parent__isnull=True, number__isnull=True)
                ),
                name="equipment_parts_alone_have_parent_and_number",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Supplier(models.Model):
    """Who sells us something, or paints for us."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    contact = models.CharField(max_length=200, blank=True)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Item(models.Model):
    """Anything we buy, make or use up, kept in one unit."""

    shown_in = "display_unit"

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=ItemKind.choices)
    dimension = models.CharField(max_length=6, choices=DimensionKind.choices)
    display_unit = models.CharField(
        max_length=8, help_text="The unit people see, as in shopfloor/units.py."
    )
    model = models.ForeignKey(
        LureModel, null=True, blank=True, on_delete=models.PROTECT, related_name="items"
    )
    colorway = models.ForeignKey(
        Colorway, null=True, blank=True, on_delete=models.PROTECT, related_name="items"
    )
    piece_mass_mg = models.DecimalField(
        max_digits=15, decimal_places=3, null=True, blank=True, help_text="Milligrams a piece."
    )
    density_mg_per_ul = models.DecimalField(
        max_digits=9,
        decimal_places=5,
        null=True,
        blank=True,
        help_text="Milligrams a microliter, the same as g/mL.",
    )
    shelf_life_days = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(LIFE_DAYS_MAX)],
        help_text="Days from receipt until it expires, where the supplier gives no date.",
    )
    made_life_minutes = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(LIFE_MINUTES_MAX)],
        help_text="Minutes until a lot that we make or mix expires (pot life).",
    )
    opened_life_minutes = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(LIFE_MINUTES_MAX)],
        help_text="Minutes a container may be used once opened.",
    )
    storage_place = models.ForeignKey(
        Place, null=True, blank=True, on_delete=models.PROTECT, related_name="items_kept"
    )
    arrives = models.CharField(max_length=12, choices=Arrival.choices, default=Arrival.RELEASED)
    hazard_text = models.TextField(
        blank=True, help_text="From the maker's safety data sheet, word for word."
    )
    hazard_pictograms = models.CharField(
        max_length=60,
        blank=True,
        help_text="GHS codes from the safety data sheet, with commas: GHS02,GHS07.",
    )
    gtin = models.CharField(max_length=14, blank=True)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(piece_mass_mg__isnull=True) | Q(piece_mass_mg__gt=0),
                name="item_piece_mass_positive",
            ),
            models.CheckConstraint(
                condition=Q(density_mg_per_ul__isnull=True) | Q(density_mg_per_ul__gt=0),
                name="item_density_positive",
            ),
            models.UniqueConstraint(fields=["gtin"], condition=~Q(gtin=""), name="item_gtin_once"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class ItemGtin(AppendOnly):
    """The GTIN that the shop gave an item of its own prefix: for good, and to no other ever.

    What the item carries now is `Item.gtin`.
    """

    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="gtin_row")
    gtin = models.CharField(max_length=14, unique=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="gtins_allotted"
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.gtin


class Offer(models.Model):
    """What one supplier offers of one item, in packs."""

    known_by = "item__code"

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="offers")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="offers")
    supplier_item_number = models.CharField(max_length=60, blank=True)
    pack_base = models.BigIntegerField(help_text="Base units of the item in one pack.")
    packs_min = models.PositiveIntegerField(default=1)
    lead_time_days = models.PositiveIntegerField(
        null=True, blank=True, help_text="As the supplier quotes it."
    )
    is_preferred = models.BooleanField(default=False)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["supplier", "item", "pack_base"],
                name="offer_once_per_supplier_item_and_pack",
            ),
            models.CheckConstraint(condition=Q(pack_base__gt=0), name="offer_pack_positive"),
            models.CheckConstraint(condition=Q(packs_min__gt=0), name="offer_packs_min_positive"),
            models.UniqueConstraint(
                fields=["item"], condition=Q(is_preferred=True), name="offer_one_preferred_per_item"
            ),
            models.CheckConstraint(
                condition=Q(is_preferred=False) | Q(is_active=True),
                name="offer_preferred_is_active",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.supplier} offers {self.item}"


class OfferPrice(models.Model):
    """Price of a pack from a number of packs on."""

    offer = models.ForeignKey(Offer, on_delete=models.CASCADE, related_name="prices")
    packs_from = models.PositiveIntegerField()
    pack_price_micro = models.BigIntegerField(help_text="Millionths of the currency for one pack.")

    class Meta:
        ordering = ["offer", "packs_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["offer", "packs_from"], name="offer_price_one_per_break"
            ),
            models.CheckConstraint(
                condition=Q(packs_from__gt=0), name="offer_price_packs_positive"
            ),
            models.CheckConstraint(
                condition=Q(pack_price_micro__gte=0), name="offer_price_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.offer} from {self.packs_from}"
