"""Doors of the ground floor."""

from __future__ import annotations

from django.urls import path

from shopfloor.api import people, records, root, shop, tokens

urlpatterns = [
    path("", root.RootDoor.as_view()),
    path("schema/", root.DescriptionDoor.as_view(), name="schema"),
    path("me/", people.MeDoor.as_view()),
    path("me/password/", people.MyPasswordDoor.as_view()),
    path("me/sign-out-everywhere/", people.MySessionsDoor.as_view()),
    path("me/tokens/", tokens.MyTokensDoor.as_view()),
    path("me/tokens/<int:token_id>/revoke/", tokens.MyTokenRevokeDoor.as_view()),
    path("people/", people.PeopleDoor.as_view()),
    path("people/<str:username>/", people.PersonDoor.as_view()),
    path("people/<str:username>/role/", people.PersonRoleDoor.as_view()),
    path("people/<str:username>/active/", people.PersonActiveDoor.as_view()),
    path("people/<str:username>/password/", people.PersonPasswordDoor.as_view()),
    path("people/<str:username>/sign-out-everywhere/", people.PersonSessionsDoor.as_view()),
    path("people/<str:username>/blank/", people.PersonBlankDoor.as_view()),
    path("tokens/", tokens.TokensDoor.as_view()),
    path("tokens/<int:token_id>/revoke/", tokens.TokenRevokeDoor.as_view()),
    path("settings/", shop.SettingsDoor.as_view()),
    path("changes/", records.ChangesDoor.as_view()),
    path("access-events/", records.AccessEventsDoor.as_view()),
]
