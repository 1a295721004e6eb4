"""Pages of items, models, colorways, suppliers, places and equipment."""

from __future__ import annotations

from typing import ClassVar

from django.urls import path

from inventory.catalog.api import items, offers, places
from shopfloor.screens import Act, ActPage, ChangePage, Column, ListPage, Paper, Table, ThingPage

_CHANGE = Act("Change it", "change/")
_NAMED = (Column("code", "Code", order="code"), Column("name", "Name", order="name"))
_ACTIVE = Column("is_active")


class ItemsPage(ListPage):
    """Items."""

    door = items.ItemsDoor
    title = "Items"
    says = "Anything the shop buys, makes or uses up."
    columns = (
        *_NAMED,
        Column("kind", "Kind", order="kind"),
        Column("model"),
        Column("colorway"),
        Column("storage_place", "Kept at"),
        _ACTIVE,
    )
    filters = ("kind", "is_active")
    acts = (Act("Add an item", "/items/new/", is_main=True),)
    none = "No items yet. Add the first: what you buy, then what you make of it."


class ItemPage(ThingPage):
    """One item."""

    door = items.ItemDoor
    title = "Item"
    hidden = ("dimension", "name")
    labels: ClassVar = {
        "display_unit": "Shown in",
        "storage_place": "Kept at",
        "made_life_minutes": "Usable for, once made (minutes)",
        "opened_life_minutes": "Usable for, once opened (minutes)",
        "shelf_life_days": "Shelf life (days)",
        "arrives": "Arrives",
        "hazard_text": "Hazard, from its safety data sheet",
    }
    tables = (
        Table(
            "offers",
            "Who offers it",
            (
                Column("supplier"),
                Column("pack"),
                Column("packs_min"),
                Column("prices"),
                Column("lead_time_days"),
                Column("is_preferred"),
            ),
            none="No supplier offers it yet.",
        ),
    )
    acts = (
        Act("Its lots", "/lots/?item={code}&is_on_hand=true", door=""),
        Act("When to reorder", "/reorder/{code}/", door=""),
        _CHANGE,
        Act("Add an offer", "/offers/new/?item={code}"),
    )
    papers = (Paper("items", "Shelf label"),)


class ItemForm(ActPage):
    """A new item."""

    door = items.ItemsDoor
    title = "Add an item"
    done = "{code} is added."
    later = (
        "model",
        "colorway",
        "piece_mass_mg",
        "density_mg_per_ul",
        "made_life_minutes",
        "opened_life_minutes",
        "hazard_pictograms",
        "gtin",
        "is_active",
    )
    labels: ClassVar = {
        "dimension": "Measured by",
        "display_unit": "Shown in",
        "storage_place": "Kept at",
        "piece_mass_mg": "Mass of a piece, mg",
        "density_mg_per_ul": "Density, mg/uL (= g/mL)",
        "shelf_life_days": "Shelf life, days",
        "made_life_minutes": "Usable for, once made, minutes",
        "opened_life_minutes": "Usable for, once opened, minutes",
        "hazard_text": "Hazard, in the words of its safety data sheet",
    }


class ItemChange(ChangePage):
    """An item, changed."""

    door = items.ItemChangeDoor
    title = "Change an item"
    labels = ItemForm.labels
    later = ("made_life_minutes", "opened_life_minutes", "hazard_pictograms", "gtin")


class OfferForm(ActPage):
    """A new offer of a supplier."""

    door = offers.OffersDoor
    title = "Add an offer"
    says = "What one supplier offers of one item: in which packs, at what price, how fast."
    done = "The offer is added."
    lands = "/items/{item}/"
    labels: ClassVar = {
        "packs_min": "Packs, at least",
        "lead_time_days": "Lead time the supplier quotes, days",
        "supplier_item_number": "The supplier's number for it",
        "is_preferred": "We buy it here first",
        "prices": "Prices",
        "prices.packs_from": "From how many packs",
        "prices.pack_price": "Price a pack",
    }
    later = ("at", "is_active")


class SuppliersPage(ListPage):
    """Suppliers."""

    door = offers.SuppliersDoor
    title = "Suppliers"
    columns = (*_NAMED, Column("contact"), _ACTIVE)
    filters = ("is_active",)
    acts = (Act("Add a supplier", "/suppliers/new/", is_main=True),)
    none = "No suppliers yet."


class SupplierPage(ThingPage):
    """One supplier."""

    door = offers.SupplierDoor
    title = "Supplier"
    hidden = ("name",)
    tables = (
        Table(
            "offers",
            "Offers",
            (
                Column("item"),
                Column("pack"),
                Column("supplier_item_number", "Their number"),
                Column("packs_min"),
                Column("prices"),
                Column("lead_time_days"),
                Column("is_preferred"),
                Column("is_active"),
            ),
        ),
    )
    acts = (
        Act("Order from it", "/supplier-orders/new/?supplier={code}", is_main=True),
        Act("Receive from it", "/receipts/new/?supplier={code}"),
        Act("Its lots", "/lots/?supplier={code}&is_on_hand=true", door=""),
        _CHANGE,
    )


class SupplierForm(ActPage):
    """A new supplier."""

    door = offers.SuppliersDoor
    title = "Add a supplier"
    done = "{code} is added."
    later = ("is_active",)


class SupplierChange(ChangePage):
    """A supplier, changed."""

    door = offers.SupplierChangeDoor
    title = "Change a supplier"


class PlacesPage(ListPage):
    """Places."""

    door = places.PlacesDoor
    title = "Places"
    says = (
        "Shelves, benches and premises outside. Boxes are places too and have pages of their own."
    )
    columns = (*_NAMED, Column("kind", order="kind"), _ACTIVE)
    filters = ("kind", "is_active")
    acts = (Act("Add a place", "/places/new/", is_main=True),)
    none = "No places yet. Add the shelf that deliveries come to."


class PlacePage(ThingPage):
    """One place."""

    door = places.PlaceDoor
    title = "Place"
    hidden = ("name",)
    acts = (
        Act("What is here", "/lots/?place={code}&is_on_hand=true", door="", is_main=True),
        Act("Count what is here", "/counts/new/?place={code}"),
        _CHANGE,
    )
    papers = (Paper("places", "Shelf label"), Paper("counts", "Count sheet"))


class PlaceForm(ActPage):
    """A new place."""

    door = places.PlacesDoor
    title = "Add a place"
    done = "{code} is added."
    later = ("is_active",)


class PlaceChange(ChangePage):
    """A place, changed."""

    door = places.PlaceChangeDoor
    title = "Change a place"


class EquipmentListPage(ListPage):
    """Equipment."""

    door = places.EquipmentListDoor
    title = "Equipment"
    says = "Presses, molds and their cavities, wheels and their stations, booths."
    columns = (
        *_NAMED,
        Column("kind", order="kind"),
        Column("parent", "Part of", to="equipment"),
        Column("number", order="number"),
        _ACTIVE,
    )
    filters = ("kind", "is_active")
    acts = (Act("Add equipment", "/equipment/new/", is_main=True),)
    none = "No equipment yet. Add a mold with its cavities, or a wheel with its stations."


class EquipmentPage(ThingPage):
    """One press, mold, wheel or part of one."""

    door = places.EquipmentDoor
    title = "Equipment"
    hidden = ("name",)
    labels: ClassVar = {"parent": "Part of"}
    to: ClassVar = {"parent": "equipment"}
    acts = (_CHANGE,)


class EquipmentForm(ActPage):
    """New equipment."""

    door = places.EquipmentListDoor
    title = "Add equipment"
    done = "{code} is added."
    labels: ClassVar = {
        "parts": "Its parts, numbered from 1",
        "parts.kind": "What they are",
        "parts.count": "How many",
        "parent": "Part of",
    }


class EquipmentChange(ChangePage):
    """Equipment, changed."""

    door = places.EquipmentChangeDoor
    title = "Change equipment"


class ModelsPage(ListPage):
    """Models."""

    door = places.ModelsDoor
    title = "Models"
    says = "The shapes of lures."
    columns = (*_NAMED, Column("length_mm", "Length, mm", order="length_mm"), _ACTIVE)
    acts = (Act("Add a model", "/models/new/", is_main=True),)
    none = "No models yet."


class ModelPage(ThingPage):
    """One model."""

    door = places.ModelDoor
    title = "Model"
    hidden = ("name",)
    labels: ClassVar = {"painted_area_mm2": "Painted area, mm²"}
    acts = (Act("Its items", "/items/?model={code}", door=""), _CHANGE)


class ModelForm(ActPage):
    """A new model."""

    door = places.ModelsDoor
    title = "Add a model"
    done = "{code} is added."
    later = ("is_active",)
    labels: ClassVar = {
        "length_mm": "Length, mm",
        "painted_area_mm2": "Painted area, mm²",
    }


class ModelChange(ChangePage):
    """A model, changed."""

    door = places.ModelChangeDoor
    title = "Change a model"
    labels = ModelForm.labels


class ColorwaysPage(ListPage):
    """Colorways."""

    door = places.ColorwaysDoor
    title = "Colorways"
    says = "How lures are painted."
    columns = (*_NAMED, _ACTIVE)
    acts = (Act("Add a colorway", "/colorways/new/", is_main=True),)
    none = "No colorways yet."


class ColorwayPage(ThingPage):
    """One colorway."""

    door = places.ColorwayDoor
    title = "Colorway"
    hidden = ("name",)
    acts = (Act("Its items", "/items/?colorway={code}", door=""), _CHANGE)


class ColorwayForm(ActPage):
    """A new colorway."""

    door = places.ColorwaysDoor
    title = "Add a colorway"
    done = "{code} is added."
    later = ("is_active",)


class ColorwayChange(ChangePage):
    """A colorway, changed."""

    door = places.ColorwayChangeDoor
    title = "Change a colorway"


urlpatterns = [
    path("items/", ItemsPage.as_view()),
    path("items/new/", ItemForm.as_view()),
    path("items/<str:code>/", ItemPage.as_view()),
    path("items/<str:code>/change/", ItemChange.as_view()),
    path("offers/new/", OfferForm.as_view()),
    path("suppliers/", SuppliersPage.as_view()),
    path("suppliers/new/", SupplierForm.as_view()),
    path("suppliers/<str:code>/", SupplierPage.as_view()),
    path("suppliers/<str:code>/change/", SupplierChange.as_view()),
    path("places/", PlacesPage.as_view()),
    path("places/new/", PlaceForm.as_view()),
    path("places/<str:code>/", PlacePage.as_view()),
    path("places/<str:code>/change/", PlaceChange.as_view()),
    path("equipment/", EquipmentListPage.as_view()),
    path("equipment/new/", EquipmentForm.as_view()),
    path("equipment/<str:code>/", EquipmentPage.as_view()),
    path("equipment/<str:code>/change/", EquipmentChange.as_view()),
    path("models/", ModelsPage.as_view()),
    path("models/new/", ModelForm.as_view()),
    path("models/<str:code>/", ModelPage.as_view()),
    path("models/<str:code>/change/", ModelChange.as_view()),
    path("colorways/", ColorwaysPage.as_view()),
    path("colorways/new/", ColorwayForm.as_view()),
    path("colorways/<str:code>/", ColorwayPage.as_view()),
    path("colorways/<str:code>/change/", ColorwayChange.as_view()),
]
