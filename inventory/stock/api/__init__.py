"""Doors of the ledger."""

from __future__ import annotations

from django.urls import path

from inventory.stock.api import books, lots, period

urlpatterns = [
    path("lots/", lots.LotsDoor.as_view()),
    path("lots/<str:code>/", lots.LotDoor.as_view()),
    path("lots/<str:code>/split/", lots.SplitDoor.as_view()),
    path("lots/<str:code>/move/", lots.MoveDoor.as_view()),
    path("lots/<str:code>/open/", lots.OpenDoor.as_view()),
    path("lots/<str:code>/hold/", lots.HoldDoor.as_view()),
    path("lots/<str:code>/release/", lots.ReleaseDoor.as_view()),
    path("lots/<str:code>/reject/", lots.RejectDoor.as_view()),
    path("lots/<str:code>/extend-expiry/", lots.ExtendExpiryDoor.as_view()),
    path("lots/<str:code>/dispose/", lots.DisposeDoor.as_view()),
    path("lots/<str:code>/adjust/", lots.AdjustDoor.as_view()),
    path("lots/<str:code>/revalue/", lots.RevalueDoor.as_view()),
    path("counts/", books.CountsDoor.as_view()),
    path("counts/preview/", books.CountPreviewDoor.as_view()),
    path("counts/<str:code>/", books.CountDoor.as_view()),
    path("counts/<str:code>/reverse/", books.CountReverseDoor.as_view()),
    path("holds/", books.HoldsDoor.as_view()),
    path("holds/<str:code>/", books.HoldPageDoor.as_view()),
    path("holds/<str:code>/release/", books.HoldReleaseDoor.as_view()),
    path("postings/", books.PostingsDoor.as_view()),
    path("postings/<str:code>/", books.PostingDoor.as_view()),
    path("books/", period.BooksDoor.as_view()),
    path("books/stock/", period.StockOnDoor.as_view()),
    path("books-closings/", books.BooksClosingsDoor.as_view()),
]
