"""Doors of the catalog."""

from __future__ import annotations

from django.urls import path

from inventory.catalog.api import gtins, items, offers, places

urlpatterns = [
    path("models/", places.ModelsDoor.as_view()),
    path("models/<str:code>/", places.ModelDoor.as_view()),
    path("models/<str:code>/change/", places.ModelChangeDoor.as_view()),
    path("colorways/", places.ColorwaysDoor.as_view()),
    path("colorways/<str:code>/", places.ColorwayDoor.as_view()),
    path("colorways/<str:code>/change/", places.ColorwayChangeDoor.as_view()),
    path("places/", places.PlacesDoor.as_view()),
    path("places/<str:code>/", places.PlaceDoor.as_view()),
    path("places/<str:code>/change/", places.PlaceChangeDoor.as_view()),
    path("equipment/", places.EquipmentListDoor.as_view()),
    path("equipment/<str:code>/", places.EquipmentDoor.as_view()),
    path("equipment/<str:code>/change/", places.EquipmentChangeDoor.as_view()),
    path("suppliers/", offers.SuppliersDoor.as_view()),
    path("suppliers/<str:code>/", offers.SupplierDoor.as_view()),
    path("suppliers/<str:code>/change/", offers.SupplierChangeDoor.as_view()),
    path("items/", items.ItemsDoor.as_view()),
    path("items/<str:code>/", items.ItemDoor.as_view()),
    path("items/<str:code>/change/", items.ItemChangeDoor.as_view()),
    path("items/<str:code>/convert/", items.ConvertDoor.as_view()),
    path("gtins/", gtins.GtinsDoor.as_view()),
    path("offers/", offers.OffersDoor.as_view()),
    path("offers/change/", offers.OfferChangeDoor.as_view()),
    path("units/", items.UnitsDoor.as_view()),
]
