"""Doors of imports: sheets that people wrote, what their headings stand for, empty ones to fill."""

from __future__ import annotations

from django.urls import path

from batches.exchange.api import headings, imports, templates

urlpatterns = [
    path("imports/", imports.ImportsDoor.as_view()),
    path("imports/headings/", headings.HeadingsDoor.as_view()),
    path("imports/headings/remove/", headings.HeadingRemoveDoor.as_view()),
    path("imports/templates/", templates.TemplatesDoor.as_view()),
    path("imports/templates/<str:sheet>.csv", templates.CsvTemplateDoor.as_view()),
    path("imports/templates/<str:sheet>.xlsx", templates.XlsxTemplateDoor.as_view()),
    path("imports/<int:number>/", imports.ImportDoor.as_view()),
]
