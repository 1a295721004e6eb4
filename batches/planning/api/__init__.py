"""Addresses of planning; each subject's doors stand in the file of its name."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
